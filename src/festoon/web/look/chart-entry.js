// <chart-entry case version>: fields that write one entry of the case each, kept as soon as the field is left.
// Enter goes to the next field as one dictates, Shift-Enter back, arrows move in the grid, a pasted block fills it.
import { ask, inWords, tell, words } from "/look/api.js";

/** @typedef {HTMLInputElement | HTMLSelectElement} Field */
/** @typedef {string | number | boolean | null} Value */

class ChartEntry extends HTMLElement {
  version = Number(this.getAttribute("version"));
  /** What was typed and is not kept yet. @type {Map<Field, Value>} */
  waiting = new Map();
  isKeeping = false;

  connectedCallback() {
    for (const field of this.fields) field.dataset.was = field.value;
    this.addEventListener("change", (event) => this.changed(/** @type {Field} */ (event.target)));
    this.addEventListener("keydown", (event) => this.key(event));
    this.addEventListener("paste", (event) => this.paste(event));
    this.addEventListener("focusin", (event) => this.told(/** @type {Field} */ (event.target)));
    this.addEventListener("click", (event) => this.fill(/** @type {HTMLElement} */ (event.target).closest("button")));
    addEventListener("case-kept", (event) => { this.version = /** @type {CustomEvent<number>} */ (event).detail; });
    addEventListener("beforeunload", (event) => { if (this.waiting.size) event.preventDefault(); });
  }

  get fields() { return /** @type {NodeListOf<Field>} */ (this.querySelectorAll("[data-path]")); }

  /** Say one thing in every field of a kind that says nothing yet. @param {HTMLElement | null} button */
  fill(button) {
    const { fill, ending } = button?.dataset ?? {};
    if (fill === undefined || !ending) return;
    for (const field of this.fields) {
      if (field.value || !field.dataset.path?.endsWith(ending)) continue;
      field.value = fill;
      this.changed(field);
    }
  }

  /** Error, method and day of what stands in a field, in sight of whoever has no pointer to hover with. @param {Field} field */
  told(field) {
    const place = this.querySelector(".reading-said");
    const fixed = field instanceof HTMLInputElement && field.readOnly ? ` ${words.fixed}` : "";
    if (place) place.textContent = field.title ? `${field.ariaLabel}: ${field.title}.${fixed}` : "";
  }

  /** The value of a field as the case has it; undefined where it is no number. @param {Field} field @returns {Value | undefined} */
  value(field) {
    const text = field.value.trim();
    if (text === "") return null;
    if ("yesNo" in field.dataset) return text === "true";
    if (field.tagName === "SELECT" || "text" in field.dataset) return text;
    const number = Number(text.replace(",", "."));
    return Number.isFinite(number) && /^[-+]?[0-9]*[.,]?[0-9]+$/.test(text) ? number : undefined;
  }

  /** @param {Field} field */
  changed(field) {
    if (!field.dataset.path || field.value === field.dataset.was) return;
    const value = this.value(field);
    field.setAttribute("aria-invalid", String(value === undefined));
    if (value === undefined) return this.say(`${named(field)}: ${words.wrong}. ${words.expected} 8.1`);
    this.waiting.set(field, value);
    this.keep();
  }

  /** One request at a time, in the order typed; what is typed meanwhile goes with the next. */
  async keep() {
    if (this.isKeeping || !this.waiting.size) return;
    this.isKeeping = true;
    const batch = [...this.waiting];
    const changes = Object.fromEntries(batch.map(([field, value]) => [field.dataset.path ?? "", value]));
    try {
      /** @type {import("./api-types").Kept} */
      const kept = await ask("PATCH", `/api/cases/${encodeURIComponent(this.getAttribute("case") ?? "")}`, { base: this.version, changes });
      for (const [field, value] of batch) {
        if (this.waiting.get(field) === value) this.waiting.delete(field);
        if (typeof value === "number" && field !== document.activeElement) field.value = String(value); // 7,5 is 7.5
        field.title = "";
        field.dataset.was = field.value;
        field.dataset.kept = "";
        field.setAttribute("aria-invalid", "false");
      }
      tell(null);
      const mine = (kept.notes ?? []).filter((note) => Object.keys(changes).some((path) => note.startsWith(path)));
      this.say(`${words.kept}. `, ...mine.map((note) => inWords(new Error(note))));
      this.dispatchEvent(new CustomEvent("case-kept", { bubbles: true, detail: kept.version }));
    } catch (error) {
      for (const [field] of batch) {
        this.waiting.delete(field);
        field.setAttribute("aria-invalid", "true");
      }
      tell(error);
      this.say(`${words.wrong}: `, inWords(error));
    } finally {
      this.isKeeping = false;
    }
    this.keep();
  }

  /** @param {(string | Node)[]} parts */
  say(...parts) { this.querySelector("#entry-said")?.replaceChildren(...parts); }

  /** @param {KeyboardEvent} event */
  key(event) {
    const field = event.target;
    if (!(field instanceof HTMLInputElement) || !field.dataset.path) return;
    /** @type {Record<string, [number, number]>} */
    const moves = { Enter: [0, event.shiftKey ? -1 : 1], ArrowDown: [1, 0], ArrowUp: [-1, 0] };
    const move = moves[event.key];
    const atEnd = field.selectionStart === field.value.length;
    const sideways = event.key === "ArrowRight" && atEnd ? 1 : event.key === "ArrowLeft" && field.selectionEnd === 0 ? -1 : 0;
    if (!move && !sideways) return;
    event.preventDefault();
    const next = move && move[0] ? this.below(field, move[0]) : this.beside(field, sideways || move[1]);
    this.changed(field);
    if (next) { next.focus(); next.select(); }
  }

  /** @param {HTMLInputElement} field @param {number} step @returns {HTMLInputElement | null} */
  beside(field, step) {
    const fields = /** @type {HTMLInputElement[]} */ ([...this.querySelectorAll("input[data-path]")]);
    return fields[fields.indexOf(field) + step] ?? null;
  }

  /** @param {HTMLInputElement} field @param {number} step @returns {HTMLInputElement | null} */
  below(field, step) {
    const cell = field.closest("td");
    const row = cell?.parentElement;
    if (!(row instanceof HTMLTableRowElement) || !cell) return this.beside(field, step);
    const place = [...row.cells].indexOf(cell);
    const way = step > 0 ? "nextElementSibling" : "previousElementSibling";
    for (let other = row[way]; other instanceof HTMLTableRowElement; other = other[way]) {
      const found = other.cells[place]?.querySelector("input[data-path]");
      if (found instanceof HTMLInputElement && other.cells.length === row.cells.length) return found;
    }
    return null;
  }

  /** @param {ClipboardEvent} event */
  paste(event) {
    const text = event.clipboardData?.getData("text/plain") ?? "";
    const rows = text.replace(/\r/g, "").replace(/\n$/, "").split("\n").map((line) => line.split("\t"));
    if ((rows.length < 2 && rows[0].length < 2) || !(event.target instanceof HTMLInputElement) || !event.target.dataset.path) return;
    event.preventDefault();
    let first = /** @type {HTMLInputElement | null} */ (event.target);
    for (const row of rows) {
      /** @type {HTMLInputElement | null} */
      let field = first;
      for (const cell of row) {
        if (!field) break;
        if (!field.readOnly) {
          field.value = cell.trim();
          this.changed(field);
        }
        const here = field.closest("tr");
        const next = this.beside(field, 1);
        field = next?.closest("tr") === here ? next : null;
      }
      first = first && this.below(first, 1);
      if (!first) break;
    }
  }
}

/** @param {Field} field */
function named(field) {
  return field.ariaLabel ?? field.labels?.[0]?.firstChild?.textContent?.trim() ?? "";
}

customElements.define("chart-entry", ChartEntry);
