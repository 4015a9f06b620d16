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
    answer = await fetch(path, { method, headers, signal, body: body === undefined || isForm ? body : JSON.stringify(body) });
  } catch (error) {
    if (error.name === "AbortError") throw error;
    throw withWrong({ kind: "unreachable", text: words.unreachable, faults: [] });
  }
  const said = answer.headers.get("content-type")?.startsWith("application/json") ? await answer.json() : null;
  if (!answer.ok) throw withWrong(said?.error ?? { kind: "failed", text: answer.statusText, faults: [] });
  return said;
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
