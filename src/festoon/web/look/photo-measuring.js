// <photo-measuring src>: one attached photograph: outlines found or clicked, each line between two clicks drawn along the true edge, and
// what is known in millimetres; measured to readings. What is marked is kept by the browser until it is taken into the chart.
import { ask, english, inWords, stepOn, tell, watch, words } from "/look/api.js";

/** @typedef {[number, number]} Point in pixels of the upright picture */
/** @typedef {{ clicks: Point[], segments: Point[][] }} Outline the line after each click, along the true edge */
/** @typedef {{ teeth: Record<string, Outline>, lines: Record<string, Point[]> }} State */
/** @typedef {import("./api-types").Marks} Marks */
/** @typedef {NonNullable<Marks["lengths"]>[number]} Length */
/** @typedef {{ label: string, dash: string, path: Point[], strong: boolean }} Line */
/** The picture with its marks, which comes with the bundle. @typedef {HTMLElement & { draw?: (points: { id: string, label: string, x: number, y: number }[], lines: Line[]) => void }} PhotoMarks */

/** Marks that are no outline, with how many points each takes at most. */
/** @type {Record<string, number>} */
const LINES = { lip_line: 40, midline: 12, horizontal: 2, ruler: 2 };
/** @type {Record<string, string>} */
const DASHES = { lip_line: "6 4", midline: "2 4", horizontal: "10 5", ruler: "" };

class PhotoMeasuring extends HTMLElement {
  src = this.getAttribute("src") ?? "";
  key = `marks ${this.src}`;
  /** @type {State} */
  state = JSON.parse(localStorage.getItem(this.key) ?? "null") ?? { teeth: {}, lines: {} };
  /** @type {State[]} */
  past = [];
  /** @type {State[]} */
  future = [];
  /** @type {PhotoMarks | null} */
  view = null;
  size = { width: 0, height: 0 };
  stop = new AbortController();

  connectedCallback() {
    this.on("[data-open]", () => this.open());
    this.on("[data-find]", () => this.outline());
    this.on("[data-measure]", () => this.measure());
    this.on("[data-undo]", () => this.step(this.past, this.future));
    this.on("[data-redo]", () => this.step(this.future, this.past));
    this.on("[data-remove]", () => this.keep(this.without(this.hand)));
    this.on("[data-cancel]", () => this.stop.abort());
    this.find("[name=hand]").addEventListener("change", () => this.draw());
    this.told("picture-clicked", (told) => this.clicked(told));
    this.told("mark-moved", (told) => this.moved(told));
    this.told("mark-removed", (told) => this.removed(told));
    this.addEventListener("marks-undo", () => this.step(this.past, this.future));
    this.addEventListener("marks-redo", () => this.step(this.future, this.past));
    this.addEventListener("marks-redraw", () => this.draw());
    this.addEventListener("picture-shown", (event) => { this.size = /** @type {CustomEvent<{ width: number, height: number }>} */ (event).detail; this.draw(); });
  }

  /** What a person did on the picture. @param {string} event @param {(told: { id: string, x: number, y: number }) => Promise<void>} done */
  told(event, done) {
    this.addEventListener(event, (told) => void done(/** @type {CustomEvent} */ (told).detail).catch((error) => this.wrong(error)));
  }

  /** @param {string} selector */
  find(selector) { return /** @type {HTMLElement} */ (this.querySelector(selector)); }

  /** @param {string} selector */
  button(selector) { return /** @type {HTMLButtonElement} */ (this.querySelector(selector)); }

  /** @param {string} name */
  input(name) { return /** @type {HTMLInputElement} */ (this.querySelector(`[name=${name}]`)); }

  /** @param {string} selector @param {() => void} done */
  on(selector, done) { this.find(selector).addEventListener("click", done); }

  /** @param {string} name */
  field(name) { return this.input(name).value; }

  /** A number as typed; null where it is none, which is refused in words. @param {string} name */
  number(name) {
    const value = Number(this.field(name).replace(",", ".") || "-");
    return Number.isFinite(value) ? value : null;
  }

  get hand() { return this.field("hand"); }

  /** How a mirrored file is read. @returns {Record<string, string>} */
  get reading() { return this.field("mirrored") ? { mirrored: this.field("mirrored") } : {}; }

  open() {
    const view = /** @type {PhotoMarks} */ (document.createElement("photo-marks"));
    view.setAttribute("src", `${this.src}/picture.jpg?${new URLSearchParams(this.reading)}`);
    view.setAttribute("words", this.getAttribute("words") ?? "");
    this.view = view;
    this.find(".photo-shown").replaceChildren(view);
    for (const part of /** @type {NodeListOf<HTMLElement>} */ (this.querySelectorAll(".photo-tools"))) part.hidden = false;
  }

  draw() {
    const { teeth, lines } = this.state;
    const outlines = Object.entries(teeth).map(([tooth, { segments }]) => ({ label: tooth, dash: "", path: segments.flat(), strong: tooth === this.hand }));
    const others = Object.entries(lines).map(([name, path]) => ({ label: words[name], dash: DASHES[name], path, strong: name === this.hand }));
    this.view?.draw?.(this.clicks.map(([x, y], index) => ({ id: String(index), label: "", x, y })), [...outlines, ...others]);
    this.button("[data-undo]").disabled = this.past.length === 0;
    this.button("[data-redo]").disabled = this.future.length === 0;
    this.button("[data-remove]").disabled = this.clicks.length === 0;
    const link = /** @type {HTMLAnchorElement} */ (this.find("a[data-marks]"));
    URL.revokeObjectURL(link.href);
    link.href = URL.createObjectURL(new Blob([JSON.stringify(this.marks, null, 1)], { type: "application/json" }));
  }

  /** Of the outline or line in hand. */
  get clicks() {
    return (this.hand in LINES ? this.state.lines[this.hand] : this.state.teeth[this.hand]?.clicks) ?? [];
  }

  /** @param {State} state */
  keep(state) {
    this.past.push(this.state);
    this.future.length = 0;
    this.state = state;
    localStorage.setItem(this.key, JSON.stringify(state));
    this.draw();
  }

  /** @param {State[]} from @param {State[]} to */
  step(from, to) {
    const state = from.pop();
    if (!state) return;
    to.push(this.state);
    this.state = state;
    localStorage.setItem(this.key, JSON.stringify(state));
    this.draw();
  }

  /** @param {string} name @returns {State} */
  without(name) {
    const { [name]: _, ...teeth } = this.state.teeth;
    const { [name]: __, ...lines } = this.state.lines;
    return { teeth, lines };
  }

  /** @param {string} name @param {Point[]} clicks @returns {State} */
  withLine(name, clicks) { return { ...this.state, lines: { ...this.state.lines, [name]: clicks } }; }

  /**
   * An outline with its clicks changed; only the segments that are not given are drawn anew.
   * @param {string} tooth @param {Point[]} clicks @param {(Point[] | null)[]} known @returns {Promise<State>}
   */
  async withOutline(tooth, clicks, known) {
    const ends = clicks.map((click, index) => [click, clicks[(index + 1) % clicks.length]]);
    const lacking = clicks.length < 2 ? [] : ends.filter((_, index) => !known[index]);
    /** @type {Point[][]} */
    const drawn = lacking.length ? (await ask("POST", `${this.src}/snap`, { segments: lacking, ...this.reading })).segments : [];
    const segments = clicks.length < 2 ? [] : ends.map((_, index) => known[index] ?? drawn.shift() ?? []);
    return { ...this.state, teeth: { ...this.state.teeth, [tooth]: { clicks, segments } } };
  }

  /** @param {{ x: number, y: number }} place */
  async clicked({ x, y }) {
    const { hand, clicks } = this;
    const click = tenths(x, y);
    if (hand in LINES) return this.keep(this.withLine(hand, [...clicks, click].slice(-LINES[hand])));
    const segments = this.state.teeth[hand]?.segments ?? [];
    if (clicks.length < 3) return this.keep(await this.withOutline(hand, [...clicks, click], segments.slice(0, -1)));
    const at = segments.map((line) => Math.min(...line.map(([a, b]) => Math.hypot(a - click[0], b - click[1]))));
    const split = at.indexOf(Math.min(...at));
    const kept = [...segments.slice(0, split), null, null, ...segments.slice(split + 1)];
    this.keep(await this.withOutline(hand, clicks.toSpliced(split + 1, 0, click), kept));
    tell(null);
  }

  /** @param {{ id: string, x: number, y: number }} mark */
  async moved({ id, x, y }) {
    const { hand, clicks } = this;
    const changed = clicks.with(Number(id), tenths(x, y));
    if (hand in LINES) return this.keep(this.withLine(hand, changed));
    const { segments } = this.state.teeth[hand];
    const before = (Number(id) + clicks.length - 1) % clicks.length;
    this.keep(await this.withOutline(hand, changed, segments.map((line, index) => (index === Number(id) || index === before ? null : line))));
  }

  /** @param {{ id: string }} mark */
  async removed({ id }) {
    const { hand, clicks } = this;
    const left = clicks.toSpliced(Number(id), 1);
    if (left.length === 0) return this.keep(this.without(hand));
    if (hand in LINES) return this.keep(this.withLine(hand, left));
    const { segments } = this.state.teeth[hand];
    const before = (Number(id) + clicks.length - 1) % clicks.length;
    const kept = segments.map((/** @returns {Point[] | null} */ line, index) => (index === before ? null : line)).toSpliced(Number(id), 1);
    this.keep(await this.withOutline(hand, left, kept));
  }

  /** @param {unknown} error */
  wrong(error) {
    this.find(".said").replaceChildren(inWords(error));
    tell(error);
    this.draw();
  }

  /** @param {string} path @param {object} body @returns {Promise<any>} the last line of the answer; null where it came to nothing */
  async working(path, body) {
    const [cancel, status] = [this.find("[data-cancel]"), this.find(".said")];
    const bar = /** @type {HTMLProgressElement} */ (this.find("progress"));
    this.stop = new AbortController();
    cancel.hidden = bar.hidden = false;
    try {
      const done = await watch("POST", `${this.src}/${path}`, body, { signal: this.stop.signal, step: stepOn(bar, status) });
      status.replaceChildren(english(done.notes.join(" · ")));
      tell(null);
      return done;
    } catch (error) {
      this.wrong(error);
      return null;
    } finally {
      cancel.hidden = bar.hidden = true;
    }
  }

  async outline() {
    const found = await this.working("outlines", this.reading);
    if (found) this.keep({ ...this.state, teeth: found.teeth });
  }

  /** The mark file, festoon-marks/1. */
  get marks() {
    const { lip_line, midline, horizontal, ruler } = this.state.lines;
    const teeth = Object.fromEntries(Object.entries(this.state.teeth).filter(([, one]) => one.clicks.length > 2).map(([tooth, { segments }]) => [tooth, { outline: segments.flatMap((line) => line.slice(0, -1)) }]));
    const photo = { sha256: this.getAttribute("sha256") ?? "", width_px: this.size.width, height_px: this.size.height };
    /** @type {Marks} */
    const marks = { format: "festoon-marks/1", photo, view: /** @type {Marks["view"]} */ (this.field("view")), teeth };
    if (lip_line?.length > 1) marks.lip_line = lip_line;
    if (midline?.length > 1) marks.midline = midline;
    if (horizontal?.length === 2) marks.horizontal = horizontal;
    if (ruler?.length === 2) marks.lengths = [/** @type {Length} */ ({ name: "ruler", start: ruler[0], end: ruler[1], length_mm: this.number("ruler_mm"), se_mm: this.number("ruler_se") })];
    return marks;
  }

  async measure() {
    const widths = /** @type {HTMLInputElement[]} */ ([...this.querySelectorAll("[data-width]")]);
    const known = widths.filter((field) => field.value.trim()).map((field) => ({ tooth: field.dataset.width, mm: Number(field.value.replace(",", ".")) }));
    const other = this.field("earlier") && document.querySelector(`photo-measuring[sha256="${this.field("earlier")}"]`);
    const body = {
      ...this.reading, marks: this.marks, known, same_tissue: this.input("same_tissue").checked, with_plan: this.input("with_plan").checked,
      ...(this.field("marker_mm").trim() && { marker: { side_mm: this.number("marker_mm"), se_mm: this.number("marker_se") } }),
      ...(this.field("scan") && { scan: this.field("scan") }),
      ...(other instanceof PhotoMeasuring && { earlier: { sha256: this.field("earlier"), marks: other.marks } }),
    };
    const said = await this.working("photo-readings", body);
    if (!said) return;
    /** @type {HTMLElement & { show: (readings: import("./api-types").Readings) => void }} */ (this.find("readings-list")).show(said.readings);
    for (const name of ["picture", "planned", "beside"]) {
      const shown = this.find(`[data-picture=${name}]`);
      shown.hidden = !said[name];
      if (said[name]) /** @type {HTMLImageElement} */ (shown.querySelector("img")).src = `data:image/png;base64,${said[name]}`;
    }
  }
}

/** A place to a tenth of a pixel. @param {number} x @param {number} y @returns {Point} */
function tenths(x, y) {
  return [Math.round(x * 10) / 10, Math.round(y * 10) / 10];
}

customElements.define("photo-measuring", PhotoMeasuring);
