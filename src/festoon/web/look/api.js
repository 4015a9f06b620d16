// Requests to the API, and what went wrong with them: one shape, shown where the page says faults stand.

/** @typedef {import("./api-types").Wrong} Wrong */
/** @typedef {{ share: number | null, what: string }} Step */
/** @typedef {Error & { wrong?: Wrong }} Refusal */

/** @type {Record<string, string>} */
export const words = JSON.parse(document.getElementById("words")?.textContent ?? "{}");
const token = document.querySelector("meta[name=festoon-token]")?.getAttribute("content") ?? "";

/**
 * Ask the API; resolves to its JSON. Rejects with an Error whose `wrong` is the shape {kind, text, faults}.
 * @param {string} method @param {string} path @param {unknown} [body] @param {{ signal?: AbortSignal }} [how]
 * @returns {Promise<any>} of the type that `Routes` names for the route
 */
export async function ask(method, path, body, { signal } = {}) {
  const answer = await answered(method, path, body, signal);
  return answer.headers.get("content-type")?.startsWith("application/json") ? answer.json() : null;
}

/**
 * Ask for work of more than a second, told line by line: `step({share, what})` while it goes on; resolves to what came of it.
 * Aborting the signal stops the work itself.
 * @param {string} method @param {string} path @param {unknown} body @param {{ signal?: AbortSignal, step?: (step: Step) => void }} [how]
 * @returns {Promise<any>} of the type that the route's description names
 */
export async function watch(method, path, body, { signal, step } = {}) {
  const answer = await answered(method, path, body, signal);
  if (!answer.body) throw refusal({ kind: "unreachable", text: words.unreachable, faults: [] });
  const reader = answer.body.pipeThrough(new TextDecoderStream()).getReader();
  for (let rest = ""; ;) {
    const { value, done } = await reader.read();
    if (done) throw refusal({ kind: "unreachable", text: words.unreachable, faults: [] });
    const lines = (rest + value).split("\n");
    rest = lines.pop() ?? "";
    for (const line of lines.map((each) => JSON.parse(each))) {
      if (line.error) throw refusal(line.error);
      if ("done" in line) return line.done;
      step?.(line);
    }
  }
}

/** @param {string} method @param {string} path @param {unknown} body @param {AbortSignal} [signal] */
async function answered(method, path, body, signal) {
  /** @type {Record<string, string>} */
  const headers = { "X-Festoon-Token": token };
  const form = body instanceof FormData ? body : null;
  if (body !== undefined && !form) headers["Content-Type"] = "application/json";
  const sent = form ?? (body === undefined ? undefined : written(body));
  let answer;
  try {
    answer = await fetch(path, { method, headers, signal, body: sent });
  } catch (error) {
    if (isAborted(error)) throw error;
    throw refusal({ kind: "unreachable", text: words.unreachable, faults: [] });
  }
  if (!answer.ok) throw refusal((await answer.json().catch(() => null))?.error ?? { kind: "failed", text: answer.statusText, faults: [] });
  return answer;
}

/** Shows each step of watched work on a progress bar and in words. @param {HTMLProgressElement} bar @param {HTMLElement} status */
export function stepOn(bar, status) {
  return (/** @type {Step} */ { share, what }) => {
    if (share === null) bar.removeAttribute("value");
    else bar.value = share;
    status.replaceChildren(`${words.working}: `, english(what));
  };
}

/** A text that only English has, for a page of any language. @param {string} text */
export function english(text) {
  const span = document.createElement("span");
  span.lang = "en";
  span.textContent = text;
  return span;
}

/** A body as JSON. What was typed and is no number is refused here: JSON would write null, and null means not measured. @param {unknown} body */
function written(body) {
  return JSON.stringify(body, (key, value) => {
    if (typeof value === "number" && !Number.isFinite(value)) throw refusal({ kind: "refused", text: `${key}: ${words.expected} 8.1 / 8,1`, faults: [] });
    return value;
  });
}

/** @param {Wrong} wrong @returns {Refusal} */
function refusal(wrong) {
  return Object.assign(new Error(wrong.text), { wrong });
}

/** True where a person stopped it. @param {unknown} error */
export function isAborted(error) {
  return error instanceof Error && error.name === "AbortError";
}

/** What went wrong, in a few words; a person's own stop is told as that. @param {unknown} error @returns {string | HTMLElement} */
export function inWords(error) {
  if (isAborted(error)) return words.stopped;
  const { message, wrong } = /** @type {Refusal} */ (error);
  return wrong?.kind === "unreachable" ? wrong.text : english(message);
}

/** Show what went wrong at the head of the page; nothing is shown where nothing is wrong. @param {unknown} error */
export function tell(error) {
  const place = /** @type {HTMLElement} */ (document.getElementById("faults"));
  place.replaceChildren();
  if (!error || isAborted(error)) return;
  const { kind, text, faults = [] } = /** @type {Refusal} */ (error).wrong ?? { kind: "failed", text: String(error), faults: [] };
  for (const { where, file, found, expected, do: advice } of faults) {
    add(`${where || file}: ${words.found} `, english(found), `; ${words.expected} `, english(expected), ". ", english(advice));
  }
  // The words of a page that does not answer are the page's own, in its language.
  if (!faults.length) add(kind === "unreachable" ? text : english(text), kind === "stale" ? ` ${words.stale}` : "");
  place.scrollIntoView({ block: "nearest" });

  /** @param {(string | Node)[]} parts */
  function add(...parts) {
    const box = document.createElement("div");
    box.className = "fault";
    box.append(`${words.wrong}: `, ...parts);
    place.append(box);
  }
}
