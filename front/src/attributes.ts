/** Data and words of a component come from the server, as JSON in its attributes; nothing is worded here. */

export function readJson<T>(element: Element, name: string, otherwise: T): T {
  const text = element.getAttribute(name);
  return text === null || text === "" ? otherwise : (JSON.parse(text) as T);
}

/** A sentence with its places filled: `say("{name}: {x}", {name: "11", x: "4"})`. */
export function say(sentence: string | undefined, values: Record<string, string | number> = {}): string {
  return (sentence ?? "").replace(/\{(\w+)\}/g, (whole, key: string) => String(values[key] ?? whole));
}
