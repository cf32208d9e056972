// lesson shows what is heard while the line of an instrument is learned.
function lesson() {
  const page = document.getElementById("lesson");
  if (page?.dataset.open === undefined) return;
  const look = async () => {
    try {
      const answer = await fetch(`/instruments/${page.dataset.lesson}/line/now`);
      if (answer.ok) {
        const m = await answer.json();
        document.getElementById("raw").textContent = m.heard.join("\n");
        document.getElementById("link").textContent = m.link;
        const table = document.getElementById("tried");
        if (table) {
          document.getElementById("read").textContent = m.read;
          document.getElementById("unread").textContent = m.unread;
          table.replaceChildren(...m.latest.map((t) => {
            const row = document.createElement("tr"), line = document.createElement("code");
            line.textContent = t.Line;
            row.insertCell().append(line);
            row.insertCell().textContent = t.Reads || t.Why;
            return row;
          }));
        }
      }
    } catch { /* the program is away; the next look tells */ }
    setTimeout(look, 500);
  };
  look();
}

lesson();
