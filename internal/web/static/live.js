// Sends the forms of a sheet without leaving it, and puts the answer in place. Without this module the
// same forms work, one page after the other.
import { keys } from "./keys.js";
import { scanner } from "./scan.js";
import { signal, sounds } from "./sounds.js";
import { keep, forget, kept, restore } from "./unsent.js";
import { now, watching, wedges } from "./now.js";

const words = document.getElementById("say").dataset;

// place swaps the parts of a page that was fetched, and keeps the focus where the hands are: in a field
// that is being filled in, else where the next reading belongs.
function place(html, focus) {
  const page = new DOMParser().parseFromString(html, "text/html");
  const inMain = document.getElementById("answer") && page.getElementById("answer");
  const at = hands(), before = seen();
  for (const id of inMain ? ["hands", "answer"] : ["main"]) {
    const here = document.getElementById(id), there = page.getElementById(id);
    if (here && there) here.replaceWith(document.adoptNode(there));
  }
  document.title = page.title;
  restore(words.waiting);
  tell(before, seen());
  if (at) { at(); return; }
  if (!focus) return;
  document.querySelector(".slot.wanted input[name=text]")?.focus({ preventScroll: false });
}

// hands remembers what is being typed, and where; it gives what puts the hands back.
function hands() {
  const field = document.activeElement;
  if (!field?.matches("form.take input[name=text]") || !field.value) return undefined;
  const { value, selectionStart, selectionEnd } = field, slot = field.form.elements.slot.value;
  return () => {
    const again = fieldOf(slot);
    if (!again) return;
    again.value = value;
    again.focus({ preventScroll: true });
    again.setSelectionRange(selectionStart, selectionEnd);
  };
}
const fieldOf = (slot) => [...document.querySelectorAll("form.take")].find((f) => f.elements.slot.value === slot)?.elements.text;

// seen is what the page says at the moment, as far as a change of it is told by a sound too.
function seen() {
  const text = (selector) => document.querySelector(selector)?.textContent.trim() ?? "";
  return {
    finding: text(".three .finding > span"), doubts: document.querySelectorAll(".doubts > li").length,
    stop: document.querySelector(".next.stop")?.textContent ?? "", readings: document.querySelectorAll("summary[data-aside]").length,
    odd: document.querySelectorAll("[data-odd]").length,
  };
}
function tell(was, is) {
  if (is.readings > was.readings) signal("taken");
  if (is.finding !== was.finding) signal("answer");
  if (is.doubts > was.doubts || is.odd > was.odd) signal("doubt");
  if (is.stop && is.stop !== was.stop) signal("stop");
}

// say shows what went wrong beside the field that was sent; what was typed stays there.
function say(form, title, hint) {
  if (!form.isConnected && form.matches("form.take")) form = fieldOf(form.elements.slot.value)?.form ?? form;
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

// What is sent waits until what was sent before is answered: no number is dropped because another is on its
// way. The same form sent twice has the same mark and is done once.
let busy = 0, before = Promise.resolve();

function send(form, button) {
  keep(form, true);
  const body = new URLSearchParams(new FormData(form, button));
  busy++;
  const sent = before.then(() => post(form, body)).finally(() => { busy--; });
  before = sent.catch(() => {});
  return sent;
}

// post gives true where it was done.
async function post(form, body) {
  try {
    const answer = await fetch(form.action, { method: "POST", body, headers: { Accept: "text/html, application/json;q=0.5" } });
    const text = await answer.text();
    if (answer.ok) {
      if (kept(form)?.mark === body.get("mark")) { // unless another number stands there by now
        forget(form);
        const field = fieldOf(body.get("slot"));
        if (field) field.value = "";
      }
      if (new URL(answer.url).pathname !== location.pathname) { location.href = answer.url; return true; }
      place(text, true);
      return true;
    }
    if (kept(form)?.mark === body.get("mark")) keep(form, false); // it was answered: sent again it is another act, or the same text after a change
    const page = new DOMParser().parseFromString(text, "text/html");
    const lines = [...page.querySelectorAll(".wrong p")].map((p) => p.textContent);
    say(form, lines[0] || words.failed, lines[1]);
    signal("stop");
  } catch {
    say(form, words.lost);
    again();
  }
  return false;
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

// A column that is pasted from a spreadsheet fills the repeats, one reading a cell. Where one is refused it
// stays in the field, with those after it beside.
document.addEventListener("paste", async (event) => {
  const field = event.target.closest?.("form.take input[name=text]");
  const cells = event.clipboardData?.getData("text/plain").split(/[\r\n\t]+/).map((cell) => cell.trim()).filter(Boolean) ?? [];
  if (!field || cells.length < 2) return;
  event.preventDefault();
  const slot = field.form.elements.slot.value;
  for (let i = 0; i < cells.length; i++) {
    const here = fieldOf(slot);
    if (!here) return;
    here.value = cells[i];
    keep(here.form, false);
    if (await send(here.form)) continue;
    const rest = cells.slice(i + 1);
    if (rest.length) say(here.form, here.form.querySelector(".wrong p")?.textContent ?? "", `${words.rest} ${rest.join("; ")}`);
    return;
  }
});

// Two touches within 300 ms at one place are one: a wet finger bounces. Keys and scripts have no place.
const bounce = { ms: 300, px: 24 };
let touched = { at: -Infinity, x: 0, y: 0 };
document.addEventListener("click", (event) => {
  if (!event.isTrusted || event.detail === 0 || event.pointerType === "mouse") return;
  const again = event.timeStamp - touched.at < bounce.ms && Math.hypot(event.clientX - touched.x, event.clientY - touched.y) < bounce.px;
  if (again) {
    event.preventDefault();
    event.stopImmediatePropagation();
    return;
  }
  touched = { at: event.timeStamp, x: event.clientX, y: event.clientY };
}, true);

// inUse says that a form that can be opened is filled in, or was opened just now. One that a wet finger opened
// doesn't hold the page back for long.
const opened = new WeakMap();
document.addEventListener("toggle", (event) => opened.set(event.target, performance.now()), true);
const inUse = () => [...document.querySelectorAll(".aside[open], .hands-free details[open], .item details[open], .foot details[open], #evidence details[open]")].some((open) => performance.now() - (opened.get(open) ?? 0) < 10000 ||
  [...open.querySelectorAll("input:not([type=hidden]), textarea, select")].some((field) => field === document.activeElement || field.value !== (field.defaultValue ?? field.value)));

// listen puts in place what somebody else changed, unless a field is being filled in.
function listen() {
  const subject = document.getElementById("hands")?.dataset.subject;
  const address = subject ? `/events?at=${subject}` : watching();
  if (!address) return;
  const stream = new EventSource(address);
  now(stream, signal);
  let later = 0;
  const look = async () => {
    const active = document.activeElement;
    if (active && active.matches("input, select, textarea") && active.value && active.type !== "hidden") return;
    if (inUse()) { clearTimeout(later); later = setTimeout(look, 2000); return; }
    const answer = await fetch(location.pathname, { headers: { Accept: "text/html" } });
    if (answer.ok && answer.url.endsWith(location.pathname)) place(await answer.text(), true);
  };
  stream.addEventListener("changed", (event) => { if (subject && event.data === subject && !busy) look(); });
  let broken = false;
  stream.onerror = () => { broken = true; };
  stream.onopen = () => { document.documentElement.dataset.listens = "yes"; if (broken) { broken = false; again(); if (subject) look(); } };
  window.addEventListener("pagehide", () => stream.close());
}

for (const field of document.querySelectorAll("[data-zone]")) field.value = Intl.DateTimeFormat().resolvedOptions().timeZone || "UTC";
keys();
sounds();
scanner();
const passkey = "/static/passkey.js"; // only where one can be used
if (document.querySelector("[data-passkey]")) (await import(passkey)).passkeys();
wedges();
restore(words.waiting);
again();
listen();
document.documentElement.dataset.ready = "yes";
