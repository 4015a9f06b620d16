import { afterEach, beforeEach, expect, it, vi } from "vitest";
import { ApiError, ask, patiently } from "./api";

const unreachable = "no answer";

beforeEach(() => {
  vi.stubGlobal("document", { querySelector: () => ({ content: "t0" }) });
});
afterEach(() => {
  vi.unstubAllGlobals();
  vi.useRealTimers();
});

function answers(status: number, body: unknown): ReturnType<typeof vi.fn> {
  const fetched = vi.fn(async () => new Response(JSON.stringify(body), { status }));
  vi.stubGlobal("fetch", fetched);
  return fetched;
}

it("sends the page's token and JSON", async () => {
  const fetched = answers(200, { kept: 1 });
  expect(await ask("/api/x", { method: "PUT", body: { a: 1 }, unreachable })).toEqual({ kept: 1 });
  expect(fetched.mock.calls[0]?.[1]).toMatchObject({ body: '{"a":1}', headers: { "X-Festoon-Token": "t0" } });
});

it("throws what the app says went wrong", async () => {
  const wrong = { kind: "refused", text: "no", faults: [] };
  answers(422, { error: wrong });
  await expect(ask("/api/x", { unreachable })).rejects.toMatchObject({ status: 422, wrong });
});

it("says in words that nothing answers", async () => {
  vi.stubGlobal("fetch", async () => Promise.reject(new TypeError("refused")));
  const error = await ask("/api/x", { unreachable }).catch((each: unknown) => each);
  expect(error).toBeInstanceOf(ApiError);
  expect((error as ApiError).message).toBe(unreachable);
});

it.each(["https://example.org/x", "//example.org/x"])("asks nobody else: %s", async (path) => {
  await expect(ask(path, { unreachable })).rejects.toThrow(TypeError);
});

it("shows progress after a second only, hides it, and cancels", async () => {
  vi.useFakeTimers();
  const hide = vi.fn();
  const show = vi.fn((cancel: () => void) => (cancel(), hide));
  const work = patiently((signal) => new Promise((done) => signal.addEventListener("abort", () => done("cancelled"))), show);
  await vi.advanceTimersByTimeAsync(999);
  expect(show).not.toHaveBeenCalled();
  await vi.advanceTimersByTimeAsync(1);
  expect(await work).toBe("cancelled");
  expect(hide).toHaveBeenCalledOnce();
});
