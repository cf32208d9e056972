// The page itself.
const given = JSON.parse(document.getElementById("given").textContent);
const $ = (id) => document.getElementById(id);
const keys = [];
let list = null, language = "en", stream = null, turn = 0;

const say = (word, ...fill) => words[language][word].replace(/\{(\d)\}/g, (_, n) => fill[n]);
function element(name, className, ...inside) {
  const e = document.createElement(name);
  if (className) e.className = className;
  e.append(...inside);
  return e;
}
const place = () => ({ en: "en-GB", de: "de", es: "es" })[language];
const moment = (s) => new Intl.DateTimeFormat(place(), { dateStyle: "long", timeStyle: "short" }).format(new Date(s * 1000));
const exact = (s) => new Intl.DateTimeFormat(place(), { dateStyle: "long", timeStyle: "long" }).format(new Date(s * 1000));
function number(value, digits) {
  const text = String(value).padStart(digits + 1, "0");
  return digits ? text.slice(0, -digits) + words[language].decimal + text.slice(-digits) : text;
}
function faultText(e) {
  if (!(e instanceof Fault)) throw e;
  return say(e.word, ...e.fill);
}

function verdict(kind, head, ...lines) {
  return element("div", "verdict " + kind, element("strong", "", head), ...lines.map((l) => element("p", "", l)));
}

function said(proof) {
  const rows = element("dl"), small = element("dl", "groups");
  const row = (to, word, text, className) => { to.append(element("dt", "", say(word)), element("dd", className || "", ...[].concat(text))); };
  const w = words[language];
  row(rows, "shop", proof.shopName ? proof.shopName + " (" + proof.shop + ")" : proof.shop);
  if (proof.demo) row(rows, "item", [element("span", "mark", say("demo"))]);
  row(rows, "number", proof.number);
  if (proof.report) row(rows, "report", proof.report);
  if (proof.supersedes) row(rows, "corrects", proof.supersedes);
  row(rows, "made", exact(proof.made));
  if (proof.item) row(rows, "item", proof.item);
  const metal = w.metals[proof.metal] || proof.metal;
  const claim = proof.claimed ? metal + " " + number(proof.claimed[1], proof.claimed[0]) : proof.claim || (proof.finding ? metal : "") || say("none");
  row(rows, "claim", claim);
  row(rows, "finding", proof.finding ? [w.findings[proof.finding], element("small", "", say("unseen"))] : w.findings[0], "big");
  if (proof.suspended) row(rows, "finding", [element("span", "mark", say("held"))]);
  const [digits, value, u] = proof.density;
  row(rows, "density", number(value, digits) + (u ? " ± " + number(u, digits) : "") + " g/cm³" + (u ? " (95 %)" : "; " + say("unbounded")));
  if (proof.fineness) row(rows, "fineness", (proof.claimed ? "" : metal + " ") + say("to", number(proof.fineness[1], proof.fineness[0]), number(proof.fineness[2], proof.fineness[0])) + " ‰ (95 %)");
  row(rows, "mass", number(proof.mass[1], proof.mass[0]) + " g, " + say("massNote"));
  row(rows, "approval", say(proof.approved ? "approved" : "notApproved"));
  row(small, "issued", exact(proof.issued));
  row(small, "checkpoint", short(proof.size, proof.root), "code");
  row(small, "entry", say("entryText", proof.entry, proof.size));
  row(small, "hash", hex(proof.hash).match(/.{8}/g).join(" "), "code");
  row(small, "key", hex(proof.key.mark), "code");
  const box = element("div", "said", rows, small);
  if (proof.cut) box.append(element("p", "hint", say("cut")));
  return box;
}

async function check() {
  const mine = ++turn, text = $("text").value;
  if (!text.trim()) return $("answer").replaceChildren();
  let shown;
  try {
    if (/^\s*WREATHLIST/.test(text)) { // the list was pasted into the wrong field
      $("list-text").value = text;
      $("text").value = "";
      return takeList(text);
    }
    const proof = await openProof(text, keys), shop = proof.shopName || proof.shop;
    try {
      const status = statusOf(proof, list), asOf = moment(status.asOf);
      const facts = said(proof);
      switch (status.state) {
      case "superseded": shown = [verdict("fallen", say("superseded", status.by), say("supersededText", status.by, asOf)), facts]; break;
      case "withdrawn": shown = [verdict("fallen", say("withdrawn"), say("withdrawnText", asOf)), facts]; break;
      case "givenUp": shown = [verdict("fallen", say("givenUp"), say("givenUpText", moment(status.since))), facts]; break;
      case "standing": shown = [verdict("yes", say("holds"), say("holdsText", shop), say("standing", asOf)), facts]; break;
      default: shown = [verdict("unsure", say("holds"), say("holdsText", shop), say(status.state, asOf)), facts];
      }
    } catch (e) { shown = [verdict("no", say("no"), faultText(e)), said(proof)]; }
  } catch (e) { shown = [verdict("no", say("no"), faultText(e))]; }
  if (mine === turn) $("answer").replaceChildren(...shown);
}

async function takeList(text) {
  $("list-fault").textContent = "";
  list = null;
  if (text.trim()) {
    try { list = await openList(text, keys); } catch (e) { $("list-fault").textContent = faultText(e); }
  }
  showParts();
  return check();
}

async function takeKey(text) {
  $("key-fault").textContent = "";
  if (!text.trim()) return;
  try {
    const key = await parseKey(text);
    if (!keys.some((k) => k.text === key.text)) keys.push(key);
    $("key-text").value = "";
  } catch (e) { $("key-fault").textContent = faultText(e); }
  showParts();
  return takeList($("list-text").value);
}

function showParts() {
  $("list-state").textContent = list ? say("listHas", moment(list.issued), list.rows.size) : say("listNone");
  $("keys-state").textContent = say("keysState", keys.length);
  $("keys").replaceChildren(...keys.map((k) => element("li", "", k.text)));
  $("shop").textContent = given.shop_name || "";
}

function speak(to) {
  language = to;
  document.documentElement.lang = to;
  document.title = say("title");
  for (const e of document.querySelectorAll("[data-t]")) e.textContent = say(e.dataset.t);
  if (stream) $("camera").textContent = say("stop");
  for (const b of document.querySelectorAll("[data-language]")) b.setAttribute("aria-pressed", String(b.dataset.language === to));
  showParts();
  return check();
}

// Pictures are read by the browser, where it can.
async function found(detector, picture) {
  const codes = await detector.detect(picture);
  const code = codes.find((c) => c.rawValue.startsWith("WREATH")) || codes[0];
  return code ? code.rawValue : "";
}

async function offerPictures() {
  const can = "BarcodeDetector" in globalThis && (await BarcodeDetector.getSupportedFormats()).includes("qr_code");
  $("no-detector").hidden = can;
  if (!can) return;
  const detector = new BarcodeDetector({ formats: ["qr_code"] });
  $("photo").hidden = $("photo-button").hidden = false;
  $("photo").addEventListener("change", async () => {
    const file = $("photo").files[0];
    if (!file) return;
    let text = "";
    try { text = await found(detector, await createImageBitmap(file)); } catch { text = ""; }
    $("photo").value = "";
    $("text").value = text;
    if (text) return check();
    turn++;
    $("answer").replaceChildren(verdict("no", say("unreadable")));
  });
  if (!navigator.mediaDevices || !navigator.mediaDevices.getUserMedia) return;
  $("camera").hidden = false;
  const stop = () => {
    stream.getTracks().forEach((t) => t.stop());
    stream = null;
    $("viewfinder").hidden = true;
    $("camera").textContent = say("camera");
  };
  $("camera").addEventListener("click", async () => {
    if (stream) return stop();
    try {
      stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } });
    } catch (e) {
      turn++;
      return $("answer").replaceChildren(verdict("no", say("noCamera", e.message)));
    }
    $("video").srcObject = stream;
    $("viewfinder").hidden = false;
    $("camera").textContent = say("stop");
    await $("video").play();
    const look = async () => {
      if (!stream) return;
      let text = "";
      try { text = await found(detector, $("video")); } catch { text = ""; }
      if (!stream) return;
      if (!text) return setTimeout(look, 150);
      stop();
      $("text").value = text;
      return check();
    };
    return look();
  });
}

let soon = 0;
$("text").addEventListener("input", () => { clearTimeout(soon); soon = setTimeout(check, 250); });
$("text").addEventListener("beforeinput", (e) => { // a scanner ends with the enter key; lines of groups are typed
  if (/^wreat h/i.test($("text").value)) return;
  if (e.inputType === "insertLineBreak" || e.inputType === "insertParagraph") { e.preventDefault(); clearTimeout(soon); check(); }
});
$("ask").addEventListener("submit", async (e) => {
  e.preventDefault();
  clearTimeout(soon);
  await check();
  $("answer").scrollIntoView({ block: "nearest" });
});
$("clear").addEventListener("click", () => { $("text").value = ""; check(); $("text").focus(); });
$("list-text").addEventListener("input", () => takeList($("list-text").value));
$("list-file").addEventListener("change", async () => {
  const file = $("list-file").files[0];
  if (!file) return;
  $("list-text").value = (await file.text()).trim();
  return takeList($("list-text").value);
});
$("key-text").addEventListener("change", () => takeKey($("key-text").value));
for (const b of document.querySelectorAll("[data-language]")) b.addEventListener("click", () => speak(b.dataset.language));

(async () => {
  for (const text of given.keys) keys.push(await parseKey(text));
  if (given.list) { $("list-text").value = given.list; list = await openList(given.list, keys).catch(() => null); }
  const wanted = (navigator.languages || [navigator.language]).map((l) => l.slice(0, 2)).find((l) => words[l]);
  await speak(given.language || wanted || "en");
  await offerPictures();
  document.documentElement.dataset.ready = "true";
})();
