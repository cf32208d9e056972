// Single keys act outside of fields only, and can be switched off. A foot switch is the space bar. What
// a key does stands at the element itself: data-key.
const inField = (e) => e.target.matches("input, select, textarea") || e.ctrlKey || e.metaKey || e.altKey;
const off = () => localStorage.getItem("wreath-keys") === "off";

// space goes to the next reading, and takes it where it is typed already.
function space() {
  const field = document.querySelector(".slot.wanted input[name=text]");
  if (!field) return false;
  if (field.value) field.form.requestSubmit(); else field.focus();
  return true;
}

// aside opens the form that sets the last reading aside.
function aside() {
  const all = [...document.querySelectorAll("summary[data-aside]")];
  const last = all.sort((a, b) => number(a) - number(b)).pop();
  if (!last) return false;
  last.parentElement.open = true;
  last.parentElement.querySelector("input[name=reason]").focus();
  return true;
}
const number = (summary) => Number(summary.parentElement.querySelector("input[name=no]").value);

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

export function act(key) {
  if (key === " ") return space();
  if (key === "X") return aside();
  if (key === "?") { document.getElementById("keys")?.showModal(); return true; }
  if (key === "P") { window.print(); return true; }
  const target = document.querySelector(`[data-key="${CSS.escape(key === "O" ? "N" : key)}"]:not(:disabled)`);
  if (target) { go(target); return true; }
  const page = { "N": "/", "O": "/", "W": "/?weigh", "/": "/book" }[key];
  if (page) { location.href = page; return true; }
  return false;
}

export function keys() {
  document.addEventListener("keydown", (e) => {
    if (e.key === "Escape" && e.target.matches("input, select, textarea")) { e.target.blur(); return; }
    if (e.key === "Escape" && !document.querySelector("dialog[open]")) {
      for (const open of document.querySelectorAll("main details[open]")) open.open = false;
    }
    if (inField(e) || off() || document.querySelector("dialog[open]")) return;
    if (e.key === " " && e.target.matches("button, summary, a")) return;
    if (act(e.key.length === 1 ? e.key.toUpperCase() : "")) e.preventDefault();
  });
  const list = document.getElementById("keys"), box = document.getElementById("keys-off");
  for (const button of document.querySelectorAll("[data-open=keys]")) {
    button.hidden = false;
    button.addEventListener("click", () => list.showModal());
  }
  if (!box) return;
  box.checked = off();
  box.addEventListener("change", () => localStorage.setItem("wreath-keys", box.checked ? "off" : "on"));
}
