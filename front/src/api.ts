/** Talks to the app's own API: same origin, the page's token on what changes something, one shape for what goes wrong. */

export interface Fault {
  file: string;
  where: string;
  line: number | null;
  found: string;
  expected: string;
  do: string;
}

export interface Wrong {
  kind: string;
  text: string;
  faults: Fault[];
}

export class ApiError extends Error {
  constructor(readonly status: number, readonly wrong: Wrong) {
    super(wrong.text);
  }
}

interface Ask {
  method?: "GET" | "POST" | "PUT" | "PATCH" | "DELETE";
  body?: unknown;
  signal?: AbortSignal;
  /** What to say when nothing answers. */
  unreachable: string;
}

/** The answer as JSON; throws ApiError with the faults, and an AbortError where the work was cancelled. */
export async function ask<Answer>(path: string, { method = "GET", body, signal, unreachable }: Ask): Promise<Answer> {
  if (!path.startsWith("/") || path.startsWith("//")) throw new TypeError(`not a path of this app: ${path}`);
  const token = document.querySelector<HTMLMetaElement>('meta[name="festoon-token"]')?.content ?? "";
  const headers: Record<string, string> = { Accept: "application/json", "X-Festoon-Token": token };
  if (body !== undefined) headers["Content-Type"] = "application/json";
  let answer: Response;
  try {
    answer = await fetch(path, {
      method, headers, credentials: "same-origin", signal: signal ?? null, body: body === undefined ? null : JSON.stringify(body),
    });
  } catch (error) {
    if (error instanceof DOMException && error.name === "AbortError") throw error;
    throw new ApiError(0, { kind: "unreachable", text: unreachable, faults: [] });
  }
  const told = answer.status === 204 ? undefined : ((await answer.json()) as unknown);
  if (!answer.ok) throw new ApiError(answer.status, (told as { error: Wrong }).error);
  return told as Answer;
}

/** Says that work goes on once it has taken a second, and hands the work the signal of a cancel. */
export async function patiently<Answer>(
  work: (signal: AbortSignal) => Promise<Answer>,
  show: (cancel: () => void) => () => void,
): Promise<Answer> {
  const control = new AbortController();
  let hide = (): void => undefined;
  const timer = setTimeout(() => (hide = show(() => control.abort())), 1000);
  try {
    return await work(control.signal);
  } finally {
    clearTimeout(timer);
    hide();
  }
}
