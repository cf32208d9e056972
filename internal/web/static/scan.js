// A scanner types faster than a person and ends with Enter. A scan goes to trays and records from any
// focus, and never into a number field.
const fastest = 35; // milliseconds between two keys

export function scanner() {
  let burst = "", last = 0, before = null;
  document.addEventListener("keydown", (e) => {
    const now = performance.now();
    if (now - last > fastest) { burst = ""; before = snapshot(e.target); }
    last = now;
    if (e.key === "Enter" && burst.length >= 4 && !(e.target.matches("form.take input") && isReading(burst))) {
      e.preventDefault();
      e.stopPropagation();
      restore(before);
      take(burst);
      burst = "";
      return;
    }
    if (e.key.length === 1) burst += e.key;
  }, true);
}

// snapshot remembers what stood in a field before the scan typed over it.
function snapshot(field) { return field.matches("input, textarea") ? { field, value: field.value } : null; }
function restore(s) { if (s && !s.field.dataset.scan) s.field.value = s.value; }

// A balance that writes as a keyboard does is as fast as a scanner; what it writes is a number with
// decimals, which stays in its field.
const isReading = (text) => /^[+-]?\s*\d*[.,]\d+\s*[a-z]*$/i.test(text.trim());

function take(code) {
  const field = document.querySelector("[data-scan=tray]");
  if (field && field === document.activeElement) { field.value = code; return; }
  const here = document.getElementById("hands")?.dataset.subject ?? "";
  location.href = `/scan?code=${encodeURIComponent(code)}&at=${encodeURIComponent(here)}`;
}
