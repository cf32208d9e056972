// A slip is printed on a page as long as the slip, and print jobs are looked at again while they move.
const slip = document.querySelector(".slip");
if (slip) {
  const roll = slip.classList.contains("roll80") ? 80 : 58;
  const mm = slip.getBoundingClientRect().height / 96 * 25.4; // 96 px an inch (CSS Values 4, 6.2)
  const sheet = [...document.styleSheets].find((s) => s.href?.includes("/static/paper.css"));
  sheet?.insertRule(`@page roll${roll} { size: ${roll}mm ${Math.max(roll, Math.ceil(mm) + 6)}mm; margin: 0; }`, sheet.cssRules.length);
  const job = slip.dataset.print;
  if (job && sessionStorage.getItem("wreath-print") !== job) { // once, also after a reload
    sessionStorage.setItem("wreath-print", job);
    window.print();
  }
}

let pause = 800; // grows while nothing happens: a printer may be off for hours
async function look() {
  const here = document.getElementById("jobs");
  if (!here?.hasAttribute("data-moving")) return;
  if (document.visibilityState === "visible" && !here.contains(document.activeElement)) {
    try {
      const answer = await fetch(location.pathname + location.search, { headers: { Accept: "text/html" } });
      const page = new DOMParser().parseFromString(await answer.text(), "text/html");
      const there = page.getElementById("jobs");
      if (answer.ok && there && there.innerHTML !== here.innerHTML) pause = 800;
      if (answer.ok && there) here.replaceWith(document.adoptNode(there));
    } catch { /* the program is away; it is asked again */ }
  }
  pause = Math.min(pause * 1.2, 8000);
  setTimeout(look, pause);
}
setTimeout(look, 500);
document.documentElement.dataset.paper = "yes";
