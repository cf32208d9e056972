// Sends the forms of a sheet without leaving it, and puts the answer in place. Without this module the
// same forms work, one page after the other.
import { keys } from "./keys.js";
import { scanner } from "./scan.js";

const regions = ["hands", "answer", "main", "top"];

// place swaps the parts of a page that was fetched, and keeps the focus where the hands are.
function place(html, focus) {
  const page = new DOMParser().parseFromString(html, "text/html");
  const inMain = document.getElementById("hands") && page.getElementById("hands");
  for (const id of inMain ? ["hands", "answer"] : ["main"]) {
    const here = document.getElementById(id), there = page.getElementById(id);
    if (here && there) here.replaceWith(document.adoptNode(there));
  }
  document.title = page.title;
  if (!focus) return;
  const wanted = document.querySelector(".slot.wanted input[name=text]");
  if (wanted) wanted.focus({ preventScroll: false });
}

// say shows what went wrong beside the field that was sent; what was typed stays there.
function say(form, title, hint) {
  let box = form.querySelector(".wrong");
  if (!box) {
    box = document.createElement("div");
    box.className = "wrong";
    box.setAttribute("role", "alert");
    form.append(box);
  }
  box.replaceChildren();
  for (const text of [title, hint]) {
    if (!text) continue;
    const line = document.createElement("p");
    line.textContent = text;
    box.append(line);
  }
}

let busy = false;

async function send(form, button) {
  if (busy) return; // two touches of a wet finger are one
  busy = true;
  const body = new URLSearchParams(new FormData(form, button));
  try {
    const answer = await fetch(form.action, { method: "POST", body, headers: { Accept: "text/html, application/json;q=0.5" } });
    const text = await answer.text();
    if (answer.ok) {
      if (new URL(answer.url).pathname !== location.pathname) { location.href = answer.url; return; }
      place(text, true);
      return;
    }
    const page = new DOMParser().parseFromString(text, "text/html");
    const lines = [...page.querySelectorAll(".wrong p")].map((p) => p.textContent);
    say(form, lines[0] || "That did not work.", lines[1]);
  } catch {
    say(form, form.dataset.lost || "No answer from the program. What was typed is still here; send it again: it is not done twice.");
  } finally {
    busy = false;
  }
}

document.addEventListener("submit", (event) => {
  const form = event.target;
  if (!form.matches("form[data-live]")) return;
  event.preventDefault();
  send(form, event.submitter);
});

// listen puts in place what somebody else changed, unless a field is being filled in.
function listen() {
  if (!document.getElementById("hands")) return;
  const subject = location.pathname.split("/").pop();
  const stream = new EventSource("/events");
  const look = async () => {
    const active = document.activeElement;
    if (active && active.matches("input, select, textarea") && active.value && active.type !== "hidden") return;
    const answer = await fetch(location.pathname, { headers: { Accept: "text/html" } });
    if (answer.ok) place(await answer.text(), true);
  };
  stream.addEventListener("changed", (event) => { if (event.data === subject && !busy) look(); });
  let broken = false;
  stream.onerror = () => { broken = true; };
  stream.onopen = () => { if (broken) { broken = false; look(); } };
}

for (const field of document.querySelectorAll("[data-zone]")) field.value = Intl.DateTimeFormat().resolvedOptions().timeZone || "UTC";
keys();
scanner();
listen();
