// A scanner types faster than a person and ends with Enter or Tab. A scan goes to trays, records and
// cards from any focus, and never into a number field.
import { signal } from "./sounds.js";
import { scene } from "./scene.js";

export const fastest = 35; // milliseconds between two keys
const secret = "[type=password], [autocomplete=one-time-code]";
const words = document.getElementById("say").dataset;
const cards = new Map(Object.entries(JSON.parse(words.cards)));

export function scanner() {
  let burst = "", last = -Infinity, before = null, pause = Infinity;
  document.addEventListener("keydown", (e) => {
    if (e.key === "Shift" || e.key === "CapsLock") return; // a scanner shifts too
    if (e.target.matches("[data-wedge]")) return; // a balance types there
    if (e.target.matches(secret)) return; // a program that types passwords is as fast; they go into no address
    const now = performance.now();
    if (now - last > fastest) { burst = ""; before = snapshot(e.target); pause = now - last; }
    last = now;
    if ((e.key === "Enter" || e.key === "Tab") && burst.length >= 4 && !isReading(e.target, burst, pause)) {
      e.preventDefault();
      e.stopImmediatePropagation();
      const code = burst;
      burst = "";
      last = -Infinity; // what follows at once is another scan
      document.dispatchEvent(new Event("wreath-scan")); // its last letter is no single key
      putBack(before);
      scanned(code);
      return;
    }
    if (e.key.length !== 1) return;
    burst += e.key;
    if (burst.length > 1 && !e.target.matches("input, select, textarea")) e.preventDefault(); // presses no button
  }, true);
  arrived();
}

// snapshot remembers what stood in a field before the scan typed over it.
function snapshot(field) { return field.matches?.("input, textarea, select") ? { field, value: field.value } : null; }

// putBack takes the scan out of the field; who keeps what is typed hears of it.
function putBack(s) {
  if (!s || s.field.value === s.value) return;
  s.field.value = s.value;
  s.field.dispatchEvent(new Event("input", { bubbles: true }));
}

// A balance that writes as a keyboard does is as fast as a scanner; what it writes is a number with
// decimals, which stays in its field, even where the machine paused for a moment in the middle of it.
const hiccup = 250; // milliseconds; nobody changes from the keys to the scanner in less
const number = /^[+-]?\s*\d*[.,]\d+\s*[a-z]*$/i, tail = /^\d*\s*(g|kg|mg|ct|ozt|dwt|grain|tola|momme|baht)?$/i;
function isReading(field, burst, pause) {
  if (!field.matches("form.take input")) return false;
  return number.test(burst.trim()) || pause < hiccup && tail.test(burst.trim()) && number.test(field.value.trim());
}

// scanned does what a card says, or goes to what a code stands for. Two scans in a row are both done: the
// second waits for the page that the first one leads to.
let leaving = false;
function scanned(code) {
  const act = cards.get(code.toUpperCase());
  if (leaving) {
    const waiting = JSON.parse(sessionStorage.getItem("wreath-scans") ?? "[]");
    sessionStorage.setItem("wreath-scans", JSON.stringify([...waiting, code]));
    return;
  }
  if (act) {
    const wrong = scene[act]();
    signal(wrong ? "unknown" : "scan");
    scene.heard(wrong ? words[wrong] : "");
    return;
  }
  const field = document.querySelector("[data-scan=tray]");
  if (field && field === document.activeElement) {
    field.value = code;
    signal("scan");
    return;
  }
  leaving = true;
  sessionStorage.setItem("wreath-scanned", code);
  const here = document.getElementById("hands")?.dataset.subject ?? "";
  location.href = `/scan?code=${encodeURIComponent(code)}&at=${encodeURIComponent(here)}`;
}

// arrived says on the new page whether the scan was understood, and goes on with the one after it.
function arrived() {
  if (sessionStorage.getItem("wreath-scanned")) {
    sessionStorage.removeItem("wreath-scanned");
    signal(document.querySelector("[data-unknown]") ? "unknown" : "scan");
  }
  const waiting = JSON.parse(sessionStorage.getItem("wreath-scans") ?? "[]");
  if (waiting.length === 0) return;
  const next = waiting.shift();
  sessionStorage.setItem("wreath-scans", JSON.stringify(waiting));
  scanned(next);
  if (!leaving) arrived();
}
