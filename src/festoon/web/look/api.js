// Requests to the API, and what went wrong with them: one shape, shown where the page says faults stand.

export const words = JSON.parse(document.getElementById("words").textContent);
const token = document.querySelector("meta[name=festoon-token]").content;

/** Ask the API; resolves to its JSON. Rejects with an Error whose `wrong` is the shape {kind, text, faults}. */
export async function ask(method, path, body, { signal } = {}) {
  const headers = { "X-Festoon-Token": token };
  const isForm = body instanceof FormData;
  if (body !== undefined && !isForm) headers["Content-Type"] = "application/json";
  let answer;
  try {
    answer = await fetch(path, { method, headers, signal, body: body === undefined || isForm ? body : written(body) });
  } catch (error) {
    if (error.name === "AbortError" || error.wrong) throw error;
    throw withWrong({ kind: "unreachable", text: words.unreachable, faults: [] });
  }
  const said = answer.headers.get("content-type")?.startsWith("application/json") ? await answer.json() : null;
  if (!answer.ok) throw withWrong(said?.error ?? { kind: "failed", text: answer.statusText, faults: [] });
  return said;
}

/**
 * Ask for work of more than a second, told line by line: `step({share, what})` while it goes on; resolves to what came of it.
 * Aborting the signal stops the work itself.
 */
export async function watch(method, path, body, { signal, step } = {}) {
  const headers = { "X-Festoon-Token": token, "Content-Type": "application/json" };
  let answer;
  try {
    answer = await fetch(path, { method, headers, signal, body: written(body) });
  } catch (error) {
    if (error.name === "AbortError" || error.wrong) throw error;
    throw withWrong({ kind: "unreachable", text: words.unreachable, faults: [] });
  }
  if (!answer.ok) throw withWrong((await answer.json().catch(() => null))?.error ?? { kind: "failed", text: answer.statusText, faults: [] });
  const reader = answer.body.pipeThrough(new TextDecoderStream()).getReader();
  for (let rest = ""; ;) {
    const { value, done } = await reader.read();
    if (done) throw withWrong({ kind: "unreachable", text: words.unreachable, faults: [] });
    const lines = (rest + value).split("\n");
    rest = lines.pop();
    for (const line of lines.map((each) => JSON.parse(each))) {
      if (line.error) throw withWrong(line.error);
      if ("done" in line) return line.done;
      step?.(line);
    }
  }
}

/** Shows each step of watched work on a progress bar and in words. */
export function stepOn(bar, status) {
  return ({ share, what }) => {
    if (share === null) bar.removeAttribute("value");
    else bar.value = share;
    status.textContent = `${words.working}: ${what}`;
  };
}

/** A body as JSON. What was typed and is no number is refused here: JSON would write null, and null means not measured. */
function written(body) {
  return JSON.stringify(body, (key, value) => {
    if (typeof value === "number" && !Number.isFinite(value)) throw withWrong({ kind: "refused", text: `${key}: ${words.expected} 8.1 / 8,1`, faults: [] });
    return value;
  });
}

function withWrong(wrong) {
  return Object.assign(new Error(wrong.text), { wrong });
}

/** Show what went wrong at the head of the page; nothing is shown where nothing is wrong. */
export function tell(error) {
  const place = document.getElementById("faults");
  place.replaceChildren();
  if (!error || error.name === "AbortError") return;
  const { kind, text, faults } = error.wrong ?? { kind: "failed", text: String(error), faults: [] };
  const lines = faults.length
    ? faults.map((fault) => `${fault.where || fault.file}: ${words.found} ${fault.found}; ${words.expected} ${fault.expected}. ${fault.do}`)
    : [kind === "stale" ? `${text} ${words.stale}` : text];
  for (const line of lines) {
    const box = document.createElement("div");
    box.className = "fault";
    box.textContent = `${words.wrong}: ${line}`;
    place.append(box);
  }
  place.scrollIntoView({ block: "nearest" });
}
