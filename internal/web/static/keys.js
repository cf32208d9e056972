// Single keys act outside of fields only, and can be switched off. What a key does stands at the element
// itself: data-key. A foot switch is the space bar, or the key that is chosen in the list of keys.
import { fastest } from "./scan.js";
import { scene } from "./scene.js";

const inField = (e) => e.target.matches("input, select, textarea");
const off = () => localStorage.getItem("wreath-keys") === "off";
const foot = () => localStorage.getItem("wreath-foot") || " ";

function go(target) {
  if (target.matches("select") || target.matches("input:not([type=checkbox])")) {
    target.closest("details")?.setAttribute("open", "");
    target.focus();
  } else if (target.matches("summary")) {
    target.parentElement.open = true;
    (target.parentElement.querySelector("input:not([type=hidden]), select") ?? target).focus();
  } else if (target.matches("a, button")) {
    target.click();
  } else {
    target.focus();
    target.scrollIntoView({ block: "nearest" });
  }
}

// doing is what a key does here; undefined is nothing.
function doing(key) {
  if (key === foot()) return document.querySelector(".slot.wanted, form.take") ? () => scene.step() : undefined;
  if (key === "X") return document.querySelector("summary[data-aside], summary[data-restore]") ? () => scene.undo() : undefined;
  if (key === "?") return () => document.getElementById("keys")?.showModal();
  if (key === "O") {
    const tray = document.querySelector(".others a, .trays a");
    return tray ? () => tray.focus() : () => { location.href = "/"; };
  }
  if (key.length !== 1 || key === " ") return undefined;
  const target = document.querySelector(`[data-key="${CSS.escape(key)}"]:not(:disabled)`);
  if (target) return () => go(target);
  if (key === "P") return () => window.print();
  const page = { "N": "/", "W": "/?weigh", "/": "/book" }[key];
  return page ? () => { location.href = page; } : undefined;
}

// nextField is the reading's field after this one, in the order of the method.
export function nextField(field) {
  const all = [...document.querySelectorAll("form.take input[name=text]")];
  return all[all.indexOf(field) + 1];
}

export function keys() {
  let pending = 0;
  document.addEventListener("keydown", (e) => {
    clearTimeout(pending); // the keys of a scanner follow each other at once: they are no single keys
    if (e.key === "Escape" && inField(e)) { e.target.blur(); return; }
    if (e.key === "Escape" && !document.querySelector("dialog[open]")) {
      for (const open of document.querySelectorAll("main details[open]")) open.open = false;
    }
    if (e.key === "Enter" && e.target.matches("form.take input[name=text]") && !e.target.value.trim()) { // nothing to take
      e.preventDefault();
      nextField(e.target)?.focus();
      return;
    }
    if (e.ctrlKey || e.metaKey || e.altKey || off() || document.querySelector("dialog[open]")) return;
    if (e.key === foot() && e.key.length > 1) { // writes nothing: it acts from every focus
      const act = doing(e.key);
      if (act) { e.preventDefault(); if (!e.repeat) act(); }
      return;
    }
    // In an empty field of a reading the space bar takes what the balance shows: no number begins with a space.
    const waits = e.key === " " && e.target.matches("form.take input[name=text]") && !e.target.value && document.querySelector("#now[data-here]");
    if (inField(e) && !waits) return;
    if (e.key === " " && e.target.matches("button, summary, a")) return;
    const act = doing(e.key.length === 1 ? e.key.toUpperCase() : e.key);
    if (!act) return;
    e.preventDefault();
    if (!e.repeat) pending = setTimeout(act, fastest + 10);
  });
  document.addEventListener("wreath-scan", () => clearTimeout(pending));
  const list = document.getElementById("keys"), box = document.getElementById("keys-off");
  for (const button of document.querySelectorAll("[data-open=keys]")) {
    button.hidden = false;
    button.addEventListener("click", () => list.showModal());
  }
  if (!box) return;
  box.checked = off();
  box.addEventListener("change", () => localStorage.setItem("wreath-keys", box.checked ? "off" : "on"));
  const field = document.getElementById("foot");
  const show = () => { field.value = foot() === " " ? field.dataset.space : foot(); };
  show();
  field.addEventListener("keydown", (e) => {
    if (["Tab", "Enter", "Escape", "Shift"].includes(e.key)) return;
    e.preventDefault();
    localStorage.setItem("wreath-foot", e.key.length === 1 ? e.key.toUpperCase() : e.key);
    show();
  });
}
