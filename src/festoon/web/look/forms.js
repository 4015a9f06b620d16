// Forms that write through the API: data-api="METHOD /path", data-then="/page" ({case} is what was typed); data-entry="key path"
// writes one entry of a case; data-attach="/path" brings a file.
import { ask, tell, words } from "/look/api.js";

const STEPPED = "festoon-stepped";

/** What a form says; what is optional and empty is not said. @param {HTMLFormElement} form */
function values(form) {
  /** @type {Record<string, string | number>} */
  const body = {};
  for (const field of form.elements) {
    if (!(field instanceof HTMLInputElement || field instanceof HTMLSelectElement || field instanceof HTMLTextAreaElement)) continue;
    if (!field.name || ("optional" in field.dataset && !field.value)) continue;
    body[field.name] = "number" in field.dataset ? Number(field.value) : field.value;
  }
  return body;
}

/** @param {HTMLFormElement} form */
async function send(form) {
  const [method, path] = (form.dataset.api ?? "").split(" ");
  const body = values(form);
  const { entry, base } = form.dataset;
  await ask(method, path, entry ? { base: Number(base), changes: { [entry]: "clear" in form.dataset ? null : body } } : Object.keys(body).length ? body : undefined);
  if (form.dataset.then) location.assign(form.dataset.then.replace("{case}", encodeURIComponent(String(body.case ?? ""))));
  else location.reload();
}

/** Bringing a file can take long: it can be stopped, and nothing is kept then. @param {HTMLFormElement} form */
async function attach(form) {
  const cancel = /** @type {HTMLButtonElement} */ (form.querySelector("[data-cancel]"));
  const bar = /** @type {HTMLProgressElement} */ (form.querySelector("progress"));
  const stop = new AbortController();
  cancel.onclick = () => stop.abort();
  cancel.hidden = bar.hidden = false;
  try {
    await ask("POST", form.dataset.attach ?? "", new FormData(form), { signal: stop.signal });
    location.reload();
  } finally {
    cancel.hidden = bar.hidden = true;
  }
}

document.addEventListener("submit", async (event) => {
  const form = /** @type {HTMLFormElement} */ (event.target);
  const how = form.dataset.api ? send : form.dataset.attach ? attach : null;
  if (!how) return;
  event.preventDefault();
  const button = event.submitter;
  if (button) {
    if (button.dataset.busy !== undefined) return; // pressed twice
    button.dataset.busy = "";
    if (button.dataset.step) sessionStorage.setItem(STEPPED, button.dataset.step);
  }
  const working = Object.assign(document.createElement("p"), { className: "said", role: "status" });
  form.append(working);
  const slow = setTimeout(() => { working.textContent = `${words.working} …`; }, 500);
  try {
    tell(null);
    await how(form);
  } catch (error) {
    tell(error);
  } finally {
    clearTimeout(slow);
    working.remove();
    if (button) delete button.dataset.busy;
  }
});

/** @param {string} step @returns {HTMLButtonElement | null} */
const stepButton = (step) => document.querySelector(`button[data-step=${step}]`);

// After a step back or forth the page is loaded anew: the keyboard stays where it was.
const stepped = sessionStorage.getItem(STEPPED);
sessionStorage.removeItem(STEPPED);
if (stepped) [stepButton(stepped), stepButton("undo"), stepButton("redo")].find((button) => button && !button.disabled)?.focus({ preventScroll: true });

document.addEventListener("keydown", (event) => {
  const field = event.target instanceof HTMLElement && event.target.matches("input, textarea, select");
  if (event.defaultPrevented || field || !(event.ctrlKey || event.metaKey) || event.altKey) return;
  const key = event.key.toLowerCase();
  const step = key === "y" || (key === "z" && event.shiftKey) ? "redo" : key === "z" ? "undo" : null;
  const button = step && stepButton(step);
  if (!button || button.disabled) return;
  event.preventDefault();
  button.click();
});

// What was kept without loading the page: it can be undone, and what the page says of the case is asked for anew, once the hand rests. The whole
// plan is solved for that, and a wish that comes meanwhile would wait for it: so the rest begins anew with every key and press, and is longer
// where the drawing is moved, which shows each wish by itself.
const REST_MS = document.querySelector("script.handles") ? 6000 : 1500;
let resting = 0;
for (const kind of ["keydown", "pointerdown"]) addEventListener(kind, () => { if (resting) rest(); }, { capture: true });

function rest() {
  clearTimeout(resting);
  resting = setTimeout(() => { resting = 0; refresh(); }, REST_MS);
}

addEventListener("case-kept", (event) => {
  for (const form of document.querySelectorAll("form")) if (form.dataset.base) form.dataset.base = String(/** @type {CustomEvent<number>} */ (event).detail);
  const [undo, redo] = [stepButton("undo"), stepButton("redo")];
  if (undo) undo.disabled = false;
  if (redo) redo.disabled = true;
  rest();
});

/** Replace the parts that are marked as fresh; one that a person is working in is left alone. */
async function refresh() {
  const answer = await fetch(location.href).catch(() => null);
  if (!answer?.ok) return;
  const page = new DOMParser().parseFromString(await answer.text(), "text/html");
  for (const part of document.querySelectorAll("[data-fresh]")) {
    const fresh = page.getElementById(part.id);
    if (!fresh) part.replaceChildren();
    else if (!part.contains(document.activeElement) && fresh.innerHTML !== part.innerHTML) part.replaceChildren(...fresh.childNodes);
  }
}
