// What is typed into a reading's field outlives a tab that is reloaded and a network that is cut. It is
// kept with the mark under which it was sent, so that it is not taken twice.
const name = (form) => `wreath:${location.pathname}:${form.elements.slot.value}`;
const isTake = (form) => form.matches("form.take");

export function keep(form, sent) {
  if (!isTake(form)) return;
  const text = form.elements.text.value;
  if (!text) { forget(form); return; }
  const before = kept(form);
  // A text that was changed after it was sent is another reading, and another act.
  if (before?.sent && before.text !== text) form.elements.mark.value = `page-${crypto.randomUUID?.() ?? Math.random().toString(36).slice(2)}`;
  sessionStorage.setItem(name(form), JSON.stringify({ text, mark: form.elements.mark.value, sent }));
}

export function forget(form) { if (isTake(form)) sessionStorage.removeItem(name(form)); }

export function kept(form) {
  if (!isTake(form)) return null;
  try { return JSON.parse(sessionStorage.getItem(name(form))); } catch { return null; }
}

// restore puts back what was typed and not taken yet.
export function restore(waiting) {
  for (const form of document.querySelectorAll("form.take")) {
    const was = kept(form);
    if (!was) continue;
    form.elements.text.value = was.text;
    form.elements.mark.value = was.mark;
    if (was.sent && !form.querySelector(".waiting")) {
      const note = document.createElement("span");
      note.className = "waiting";
      note.textContent = waiting;
      form.append(note);
    }
  }
}
