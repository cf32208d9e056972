import { atBalance } from "./now.js";

// What hands can do on a sheet, by key, foot switch or card. Each act gives the name of the words that say
// why nothing was done, or "".
const takes = () => [...document.querySelectorAll("form.take input[name=text]")];

// holding is the reading field that holds a number: the one the focus is in, the one that is asked for, or
// the only one.
function holding() {
  const filled = takes().filter((f) => f.value.trim());
  return filled.find((f) => f === document.activeElement) ?? filled.find((f) => f.closest(".wanted")) ?? (filled.length === 1 ? filled[0] : undefined);
}

// last is the reading that was touched last, by its number.
const number = (summary) => Number(summary.parentElement.querySelector("input[name=no]").value);
function lastKept() { return [...document.querySelectorAll("summary[data-aside]")].sort((a, b) => number(a) - number(b)).pop(); }

function openForm(summary) {
  summary.parentElement.open = true;
  summary.parentElement.querySelector("input[name=reason]").focus();
}

export const scene = {
  take() {
    const field = holding();
    if (!field) return atBalance("take") ? "" : takes().length ? "nothing" : "nosheet";
    field.form.requestSubmit();
    return "";
  },
  // again opens the next immersion.
  again() {
    if (atBalance("again")) return "";
    const field = document.querySelector("form.take input[data-key=L]");
    if (!field) return "nosheet";
    field.focus();
    return "";
  },
  aside() {
    if (!takes().length) return "nosheet";
    const last = lastKept();
    if (!last) return "noreading";
    const form = last.parentElement.querySelector("form");
    form.elements.reason.value = "set aside by card";
    form.requestSubmit();
    return "";
  },
  next() {
    location.href = "/";
    return "";
  },
  // undo asks why the last reading is set aside; where that was done last, why it is restored.
  undo() {
    const summary = document.querySelector("summary[data-restore][data-last]") ?? lastKept();
    if (summary) openForm(summary);
    return summary ? "" : "noreading";
  },
  // step takes the reading that is typed, else the one that the balance shows, or goes where the next one
  // belongs.
  step() {
    const field = holding();
    if (field) { field.form.requestSubmit(); return ""; }
    if (atBalance("take")) return "";
    const wanted = document.querySelector(".slot.wanted input[name=text]");
    wanted?.focus();
    return wanted ? "" : "nosheet";
  },
  // heard shows a line of words; none takes the last one away.
  heard(text) {
    let line = document.getElementById("heard");
    if (!line && text) {
      line = document.createElement("p");
      line.id = "heard";
      line.className = "line";
      line.setAttribute("role", "status");
      document.getElementById("main").prepend(line);
    }
    if (line) line.textContent = text;
  },
};
