// Sends the forms of a sheet without leaving it, and puts the answer in place. Without this module the
// same forms work, one page after the other.
import { keys } from "./keys.js";
import { scanner } from "./scan.js";
import { passkeys } from "./passkey.js";
import { keep, forget, kept, restore } from "./unsent.js";

const words = document.getElementById("say").dataset;

// place swaps the parts of a page that was fetched, and keeps the focus where the hands are.
function place(html, focus) {
  const page = new DOMParser().parseFromString(html, "text/html");
  const inMain = document.getElementById("answer") && page.getElementById("answer");
  for (const id of inMain ? ["hands", "answer"] : ["main"]) {
    const here = document.getElementById(id), there = page.getElementById(id);
    if (here && there) here.replaceWith(document.adoptNode(there));
  }
  document.title = page.title;
  restore(words.waiting);
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
  keep(form, true);
  const body = new URLSearchParams(new FormData(form, button));
  try {
    const answer = await fetch(form.action, { method: "POST", body, headers: { Accept: "text/html, application/json;q=0.5" } });
    const text = await answer.text();
    if (answer.ok) {
      forget(form);
      if (new URL(answer.url).pathname !== location.pathname) { location.href = answer.url; return; }
      place(text, true);
      return;
    }
    keep(form, false); // it was answered: sent again it is another act, or the same text after a change
    const page = new DOMParser().parseFromString(text, "text/html");
    const lines = [...page.querySelectorAll(".wrong p")].map((p) => p.textContent);
    say(form, lines[0] || words.failed, lines[1]);
  } catch {
    say(form, words.lost);
    again();
  } finally {
    busy = false;
  }
}

// again sends what got no answer once more, under its own mark, until it is answered.
let waiting = 0;
function again() {
  clearTimeout(waiting);
  waiting = setTimeout(() => {
    const form = [...document.querySelectorAll("form.take")].find((f) => kept(f)?.sent);
    if (!form) return;
    restore(words.waiting);
    if (busy) again(); else send(form);
  }, 1500);
}

document.addEventListener("submit", (event) => {
  const form = event.target;
  if (!form.matches("form[data-live]")) return;
  event.preventDefault();
  send(form, event.submitter);
});
document.addEventListener("input", (event) => {
  const form = event.target.closest("form.take");
  if (form) keep(form, false);
});
window.addEventListener("online", again);

// listen puts in place what somebody else changed, unless a field is being filled in.
function listen() {
  const subject = document.getElementById("hands")?.dataset.subject;
  if (!subject) return;
  const stream = new EventSource("/events");
  const look = async () => {
    const active = document.activeElement;
    if (active && active.matches("input, select, textarea") && active.value && active.type !== "hidden") return;
    if (document.querySelector(".aside[open], .item details[open]")) return;
    const answer = await fetch(location.pathname, { headers: { Accept: "text/html" } });
    if (answer.ok && answer.url.endsWith(location.pathname)) place(await answer.text(), true);
  };
  stream.addEventListener("changed", (event) => { if (event.data === subject && !busy) look(); });
  let broken = false;
  stream.onerror = () => { broken = true; };
  stream.onopen = () => { document.documentElement.dataset.listens = "yes"; if (broken) { broken = false; again(); look(); } };
  window.addEventListener("pagehide", () => stream.close());
}

for (const field of document.querySelectorAll("[data-zone]")) field.value = Intl.DateTimeFormat().resolvedOptions().timeZone || "UTC";
keys();
scanner();
passkeys();
restore(words.waiting);
again();
listen();
document.documentElement.dataset.ready = "yes";
