// What instruments say, as it comes: the digits are changed in place, no page is loaded for them.
const parts = (box, name) => box.querySelectorAll(`[data-part="${name}"]`);
const write = (box, name, text) => { for (const at of parts(box, name)) if (at.textContent !== text) at.textContent = text; };

function draw(m) {
  for (const box of document.querySelectorAll(`[data-live="${CSS.escape(m.id)}"]`)) {
    box.dataset.state = m.state;
    write(box, "head", m.head);
    write(box, "soft", m.soft || (m.head || !box.matches(".now") ? "" : "–"));
    write(box, "unit", m.unit);
    for (const at of parts(box, "digits")) at.className = m.class;
    for (const at of parts(box, "sign")) at.setAttribute("d", m.sign);
    if (m.path !== undefined) for (const at of parts(box, "path")) at.setAttribute("d", m.path);
    if (m.what) write(box, "what", m.what);
    write(box, "doing", m.doing);
    write(box, "notes", m.notes.join(" "));
    Object.assign(box, { word: m.word, counts: m.counts, since: performance.now() - 1000 * m.ago });
    word(box);
  }
}

// word says the state, with the seconds that it lasts where they count.
function word(box) {
  if (box.word === undefined) return;
  const seconds = Math.floor((performance.now() - box.since) / 1000);
  write(box, "word", box.counts ? `${box.word}, ${seconds} s` : box.word);
}

export function now(stream, signal) {
  stream.addEventListener("now", (event) => draw(JSON.parse(event.data)));
  stream.addEventListener("sound", (event) => signal(event.data));
  setInterval(() => document.querySelectorAll("[data-live]").forEach(word), 1000);
}

// watching is the address of the stream for a page that shows instruments and is no sheet; "" for others.
export const watching = () => (document.querySelector("[data-live]:not([data-practice])") ? "/events?watch" : "");

// atBalance sends an act of hands to the balance that this sheet is at; false where it is at none.
export function atBalance(act) {
  const box = document.getElementById("now"), sheet = document.getElementById("hands")?.dataset.subject;
  if (!sheet || box?.dataset.here === undefined) return false;
  const slot = document.querySelector(".slot.wanted form.take")?.elements.slot.value ?? "";
  fetch(`/sheet/${sheet}/balance`, { method: "POST", body: new URLSearchParams({ act, slot }), headers: { Accept: "application/json" } })
    .then(async (answer) => heard(answer.ok ? "" : (await answer.json()).title), () => heard(document.getElementById("say").dataset.failed));
  return true;
}
const heard = (text) => { const line = document.getElementById("heard"); if (line) line.textContent = text; };

// wedges: what a balance types into its field goes to the program line by line.
export function wedges() {
  document.addEventListener("keydown", (e) => {
    if (!e.target.matches?.("[data-wedge]") || e.key !== "Enter" && e.key !== "Tab" || !e.target.value) return;
    e.preventDefault();
    e.stopPropagation();
    const field = e.target, line = field.value;
    field.value = "";
    fetch(`/instruments/${field.dataset.wedge}/typed`, { method: "POST", body: new URLSearchParams({ line }), headers: { Accept: "application/json" } });
  });
}
