// Forms that write through the API: data-api="METHOD /path", data-then="/page" ({case} is what was typed).
import { ask, tell } from "/look/api.js";

function values(form) {
  const body = {};
  for (const field of form.elements) {
    if (!field.name || ("optional" in field.dataset && !field.value)) continue;
    body[field.name] = "number" in field.dataset ? Number(field.value) : field.value;
  }
  return body;
}

async function send(form) {
  const [method, path] = form.dataset.api.split(" ");
  const body = values(form);
  await ask(method, path, Object.keys(body).length ? body : undefined);
  const then = form.dataset.then?.replace("{case}", encodeURIComponent(body.case ?? ""));
  if (then) location.assign(then);
  else location.replace(location.href);
}

async function attach(form) {
  await ask("POST", form.dataset.attach, new FormData(form));
  location.replace(location.href);
}

document.addEventListener("submit", async (event) => {
  const form = event.target;
  const how = form.dataset.api ? send : form.dataset.attach ? attach : null;
  if (!how) return;
  event.preventDefault();
  const button = event.submitter;
  if (button) button.dataset.busy = "";
  try {
    tell(null);
    await how(form);
  } catch (error) {
    tell(error);
  } finally {
    if (button) delete button.dataset.busy;
  }
});
