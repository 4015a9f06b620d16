// <chart-entry case version>: fields that write one entry of the case each, kept as soon as the field is left.
// Enter goes to the next field as one dictates, Shift-Enter back, arrows move in the grid, a pasted block fills it.
import { ask, tell, words } from "/look/api.js";

class ChartEntry extends HTMLElement {
  connectedCallback() {
    this.version = Number(this.getAttribute("version"));
    this.waiting = new Map();
    for (const field of this.querySelectorAll("[data-path]")) field.dataset.was = field.value;
    this.addEventListener("change", (event) => this.changed(event.target));
    this.addEventListener("keydown", (event) => this.key(event));
    this.addEventListener("paste", (event) => this.paste(event));
    addEventListener("beforeunload", (event) => { if (this.waiting.size) event.preventDefault(); });
  }

  /** The value of a field as the case has it; undefined where it is no number. */
  value(field) {
    const text = field.value.trim();
    if (text === "") return null;
    if ("yesNo" in field.dataset) return text === "true";
    if (field.tagName === "SELECT" || "text" in field.dataset) return text;
    const number = Number(text.replace(",", "."));
    return Number.isFinite(number) && /^[-+]?[0-9]*[.,]?[0-9]+$/.test(text) ? number : undefined;
  }

  changed(field) {
    if (!field.dataset.path || field.value === field.dataset.was) return;
    const value = this.value(field);
    field.setAttribute("aria-invalid", value === undefined);
    if (value === undefined) return this.say(`${field.getAttribute("aria-label") ?? ""}: ${words.wrong}. ${words.expected} 8.1`);
    this.waiting.set(field, value);
    this.keep();
  }

  /** One request at a time, in the order typed; what is typed meanwhile goes with the next. */
  async keep() {
    if (this.keeping || !this.waiting.size) return;
    this.keeping = true;
    const batch = [...this.waiting];
    const changes = Object.fromEntries(batch.map(([field, value]) => [field.dataset.path, value]));
    try {
      const kept = await ask("PATCH", `/api/cases/${encodeURIComponent(this.getAttribute("case"))}`, { base: this.version, changes });
      this.version = kept.version;
      for (const [field, value] of batch) {
        if (this.waiting.get(field) === value) this.waiting.delete(field);
        field.dataset.was = field.value;
        field.dataset.kept = "";
        field.setAttribute("aria-invalid", "false");
      }
      tell(null);
      const mine = kept.notes.filter((note) => Object.keys(changes).some((path) => note.startsWith(path)));
      this.say(`${words.kept}. ${mine.join(" ")}`);
      this.dispatchEvent(new CustomEvent("case-kept", { bubbles: true, detail: kept.version }));
    } catch (error) {
      for (const [field] of batch) {
        this.waiting.delete(field);
        field.setAttribute("aria-invalid", "true");
      }
      tell(error);
      this.say(`${words.wrong}: ${error.message}`);
    } finally {
      this.keeping = false;
    }
    this.keep();
  }

  say(text) {
    const place = this.querySelector("#entry-said");
    if (place) place.textContent = text;
  }

  key(event) {
    const field = event.target;
    if (field.tagName !== "INPUT") return;
    const move = { Enter: [0, event.shiftKey ? -1 : 1], ArrowDown: [1, 0], ArrowUp: [-1, 0] }[event.key];
    const atEnd = field.selectionStart === field.value.length;
    const sideways = event.key === "ArrowRight" && atEnd ? 1 : event.key === "ArrowLeft" && field.selectionEnd === 0 ? -1 : 0;
    if (!move && !sideways) return;
    event.preventDefault();
    const next = move && move[0] ? this.below(field, move[0]) : this.beside(field, sideways || move[1]);
    this.changed(field);
    if (next) { next.focus(); next.select(); }
  }

  beside(field, step) {
    const fields = [...this.querySelectorAll("input[data-path]")];
    return fields[fields.indexOf(field) + step];
  }

  below(field, step) {
    const cell = field.closest("td");
    const row = cell?.parentElement;
    if (!row) return this.beside(field, step);
    const place = [...row.cells].indexOf(cell);
    for (let other = step > 0 ? row.nextElementSibling : row.previousElementSibling; other; other = step > 0 ? other.nextElementSibling : other.previousElementSibling) {
      const found = other.cells[place]?.querySelector("input[data-path]");
      if (found && other.cells.length === row.cells.length) return found;
    }
    return null;
  }

  paste(event) {
    const text = event.clipboardData?.getData("text/plain") ?? "";
    const rows = text.replace(/\r/g, "").replace(/\n$/, "").split("\n").map((line) => line.split("\t"));
    if (rows.length < 2 && rows[0].length < 2) return;
    event.preventDefault();
    let first = event.target;
    for (const row of rows) {
      let field = first;
      for (const cell of row) {
        if (!field) break;
        field.value = cell.trim();
        this.changed(field);
        const here = field.closest("td")?.parentElement;
        const next = this.beside(field, 1);
        field = next?.closest("td")?.parentElement === here ? next : null;
      }
      first = first && this.below(first, 1);
      if (!first) break;
    }
  }
}

customElements.define("chart-entry", ChartEntry);
