// Single keys act outside of fields only. A foot switch is the space bar.
const inField = (e) => e.target.matches("input, select, textarea, button, summary, a") || e.ctrlKey || e.metaKey || e.altKey;

export function keys() {
  document.addEventListener("keydown", (e) => {
    if (e.key === "Escape" && e.target.matches("input, select, textarea")) { e.target.blur(); return; }
    if (inField(e) || document.documentElement.dataset.keys === "off") return;
    const key = e.key.toUpperCase();
    const field = document.querySelector(`[data-key="${CSS.escape(key)}"]`);
    const act = {
      "S": () => document.querySelector(".acts button.main:not(:disabled)"),
      "N": () => document.querySelector(".acts a.button"),
      "I": () => document.querySelector(".item summary"),
      "C": () => document.querySelector(".item summary"),
      " ": () => document.querySelector(".slot.wanted input[name=text]"),
    }[key];
    const target = field || (act && act());
    if (!target) return;
    e.preventDefault();
    if (target.matches("input")) target.focus(); else target.click();
  });
}
