// Asks the browser for a passkey and sends the answer with the form that wanted it. A form names in
// data-passkey what it wants: "get" any passkey, "mine" one of the person's own, "new" a new one. A button
// of class "passkey" does it; without this module, or without passkeys, it stays hidden and the password
// works.
const bytes = (text) => Uint8Array.from(atob(text.replace(/-/g, "+").replace(/_/g, "/")), (c) => c.charCodeAt(0));
const text = (buffer) => btoa(String.fromCharCode(...new Uint8Array(buffer))).replace(/\+/g, "-").replace(/\//g, "_").replace(/=+$/, "");
const each = (list) => (list ?? []).map((c) => ({ ...c, id: bytes(c.id) }));

// ask gets the question from the program.
async function ask(form, want) {
  const body = new URLSearchParams();
  if (want === "new") body.set("password", form.elements.password?.value ?? "");
  if (want === "mine") body.set("for", "me");
  if (form.dataset.but) body.set("but", form.dataset.but);
  const answer = await fetch(want === "new" ? "/passkeys/new" : "/passkeys/ask", { method: "POST", body, headers: { Accept: "application/json" } });
  const told = await answer.json();
  if (!answer.ok) throw Object.assign(new Error(told.title), { hint: told.hint });
  return told.options;
}

async function create(o) {
  const made = await navigator.credentials.create({ publicKey: { ...o, challenge: bytes(o.challenge), user: { ...o.user, id: bytes(o.user.id) }, excludeCredentials: each(o.excludeCredentials) } });
  const r = made.response;
  return answered(made, { attestationObject: text(r.attestationObject), transports: r.getTransports?.() ?? [] });
}

async function get(o) {
  const given = await navigator.credentials.get({ publicKey: { ...o, challenge: bytes(o.challenge), allowCredentials: each(o.allowCredentials) } });
  const r = given.response;
  return answered(given, { authenticatorData: text(r.authenticatorData), signature: text(r.signature), userHandle: r.userHandle ? text(r.userHandle) : undefined });
}

function answered(key, response) {
  response.clientDataJSON = text(key.response.clientDataJSON);
  return JSON.stringify({ id: key.id, rawId: text(key.rawId), type: key.type, response, clientExtensionResults: key.getClientExtensionResults() });
}

// tell says beside the button what went wrong.
function tell(form, lines) {
  const box = form.querySelector(".wrong") ?? form.appendChild(document.createElement("div"));
  box.className = "wrong";
  box.setAttribute("role", "alert");
  box.replaceChildren(...lines.filter(Boolean).map((line) => Object.assign(document.createElement("p"), { textContent: line })));
}

async function use(form, button) {
  const want = form.dataset.passkey;
  if (want === "new" && !form.reportValidity()) return;
  button.disabled = true;
  try {
    const options = await ask(form, want);
    form.elements.passkey.value = await (want === "new" ? create(options) : get(options));
    for (const field of form.querySelectorAll("[type=password]")) field.value = "";
    form.submit();
  } catch (e) {
    const own = e instanceof DOMException;
    tell(form, [own ? form.dataset[e.name === "InvalidStateError" ? "twice" : "none"] : e.message, e.hint]);
  } finally {
    button.disabled = false;
  }
}

export function passkeys() {
  if (!window.PublicKeyCredential || !window.isSecureContext) return;
  for (const line of document.querySelectorAll(".nopasskey")) line.hidden = true;
  for (const button of document.querySelectorAll("button.passkey")) {
    button.hidden = button.form.hidden = false;
    button.addEventListener("click", () => use(button.form, button));
  }
}
