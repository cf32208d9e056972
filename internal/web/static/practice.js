// A practice bench: the digits as they come, and acts without leaving the page. Without this module the same
// forms work, one page after the other.
import { now } from "./now.js";

const bench = document.getElementById("practice"), note = document.getElementById("note");
const words = document.getElementById("say").dataset;
let busy = false;

// stand shows what can be done as the bench stands. A button that can't be pressed keeps its focus.
function stand(m) {
  busy = m.busy;
  document.getElementById("stands").textContent = m.bench;
  document.getElementById("busy").hidden = !m.busy;
  for (const button of document.querySelectorAll("#acts button")) {
    if (m.busy || !m.possible.includes(button.value)) button.setAttribute("aria-disabled", "true");
    else button.removeAttribute("aria-disabled");
  }
}

// place puts the answer in its places, and the focus where it was.
function place(html, button) {
  const page = new DOMParser().parseFromString(html, "text/html");
  if (!page.getElementById("acts")) { location.reload(); return; }
  const [was, is] = [document.getElementById("paper"), page.getElementById("paper")];
  was.replaceWith(document.adoptNode(is));
  const told = document.querySelector("#practice > section dl"), seen = page.querySelector("#practice > section dl");
  if (seen) told.replaceWith(document.adoptNode(seen));
  if (!page.querySelector(`form[action$="/look"]`)) document.querySelector(`form[action$="/look"]`)?.remove();
  if (!button || button.isConnected) return;
  (document.querySelector(`#paper button[name="${button.name}"][value="${button.value}"]`) ?? document.querySelector("#paper button"))?.focus({ preventScroll: true });
}

function say(...lines) {
  note.replaceChildren();
  if (!lines.length) return;
  const box = document.createElement("div");
  box.className = "wrong";
  for (const text of lines) {
    const line = document.createElement("p");
    line.textContent = text;
    box.append(line);
  }
  note.append(box);
}

document.addEventListener("submit", async (event) => {
  const form = event.target, button = event.submitter;
  if (!form.matches("form[data-practice]")) return;
  event.preventDefault();
  if (form.id === "acts" && busy) return;
  if (form.id === "acts") { busy = true; document.documentElement.dataset.acting = "yes"; } // until it is answered
  try {
    const answer = await fetch(form.action, { method: "POST", body: new URLSearchParams(new FormData(form, button)), headers: { Accept: "text/html" } });
    const text = await answer.text();
    if (answer.ok) {
      say();
      place(text, button);
    } else {
      const page = new DOMParser().parseFromString(text, "text/html");
      const lines = [...page.querySelectorAll(".wrong p")].map((p) => p.textContent);
      say(...(lines.length ? lines : [words.failed]));
    }
  } catch {
    say(words.lost);
  }
  if (form.id === "acts") { busy = false; delete document.documentElement.dataset.acting; }
});

if (bench?.dataset.stream) {
  const stream = new EventSource(bench.dataset.stream);
  now(stream, () => {});
  stream.addEventListener("bench", (event) => stand(JSON.parse(event.data)));
  stream.onopen = () => { bench.dataset.listens = "yes"; };
  window.addEventListener("pagehide", () => stream.close());
}
document.getElementById("truth")?.focus();
