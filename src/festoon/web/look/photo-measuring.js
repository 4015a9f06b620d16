// <photo-measuring src>: one attached photograph: outlines found or clicked, each line between two clicks drawn along the true edge, and
// what is known in millimetres; measured to readings. What is marked is kept by the browser until it is taken into the chart.
import { ask, stepOn, tell, watch, words } from "/look/api.js";

/** Marks that are no outline, with how many points each takes at most. */
const LINES = { lip_line: 40, midline: 12, horizontal: 2, ruler: 2 };
const DASHES = { lip_line: "6 4", midline: "2 4", horizontal: "10 5", ruler: "" };

class PhotoMeasuring extends HTMLElement {
  connectedCallback() {
    this.src = this.getAttribute("src");
    this.key = `marks ${this.src}`;
    this.state = JSON.parse(localStorage.getItem(this.key) ?? "null") ?? { teeth: {}, lines: {} };
    this.past = [];
    this.future = [];
    this.on("[data-open]", () => this.open());
    this.on("[data-find]", () => this.find());
    this.on("[data-measure]", () => this.measure());
    this.on("[data-undo]", () => this.step(this.past, this.future));
    this.on("[data-redo]", () => this.step(this.future, this.past));
    this.on("[data-remove]", () => this.keep(this.without(this.hand)));
    this.on("[data-cancel]", () => this.stop?.abort());
    this.querySelector("[name=hand]").addEventListener("change", () => this.draw());
    const done = { "picture-clicked": "clicked", "mark-moved": "moved", "mark-removed": "removed" };
    for (const [event, method] of Object.entries(done)) this.addEventListener(event, (told) => void this[method](told.detail).catch((error) => this.wrong(error)));
    this.addEventListener("marks-undo", () => this.step(this.past, this.future));
    this.addEventListener("marks-redo", () => this.step(this.future, this.past));
    this.addEventListener("marks-redraw", () => this.draw());
    this.addEventListener("picture-shown", ({ detail }) => { this.size = detail; this.draw(); });
  }

  on(selector, done) { this.querySelector(selector).addEventListener("click", done); }

  field(name) { return this.querySelector(`[name=${name}]`).value; }

  /** A number as typed; null where it is none, which is refused in words. */
  number(name) {
    const value = Number(this.field(name).replace(",", ".") || "-");
    return Number.isFinite(value) ? value : null;
  }

  get hand() { return this.field("hand"); }

  get reading() { return this.field("mirrored") ? { mirrored: this.field("mirrored") } : {}; }

  open() {
    const view = document.createElement("photo-marks");
    view.setAttribute("src", `${this.src}/picture.jpg?${new URLSearchParams(this.reading)}`);
    view.setAttribute("words", this.getAttribute("words"));
    this.view = view;
    this.querySelector(".photo-shown").replaceChildren(view);
    for (const part of this.querySelectorAll(".photo-tools")) part.hidden = false;
  }

  draw() {
    const { teeth, lines } = this.state;
    const outlines = Object.entries(teeth).map(([tooth, { segments }]) => ({ label: tooth, dash: "", path: segments.flat(), strong: tooth === this.hand }));
    const others = Object.entries(lines).map(([name, path]) => ({ label: words[name], dash: DASHES[name], path, strong: name === this.hand }));
    this.view?.draw?.(this.clicks.map(([x, y], index) => ({ id: String(index), label: "", x, y })), [...outlines, ...others]);
    this.querySelector("[data-undo]").disabled = this.past.length === 0;
    this.querySelector("[data-redo]").disabled = this.future.length === 0;
    this.querySelector("[data-remove]").disabled = this.clicks.length === 0;
    const link = this.querySelector("a[data-marks]");
    URL.revokeObjectURL(link.href);
    link.href = URL.createObjectURL(new Blob([JSON.stringify(this.marks, null, 1)], { type: "application/json" }));
  }

  /** Of the outline or line in hand. */
  get clicks() {
    return (this.hand in LINES ? this.state.lines[this.hand] : this.state.teeth[this.hand]?.clicks) ?? [];
  }

  keep(state) {
    this.past.push(this.state);
    this.future.length = 0;
    this.state = state;
    localStorage.setItem(this.key, JSON.stringify(state));
    this.draw();
  }

  step(from, to) {
    const state = from.pop();
    if (!state) return;
    to.push(this.state);
    this.state = state;
    localStorage.setItem(this.key, JSON.stringify(state));
    this.draw();
  }

  without(name) {
    const { [name]: _, ...teeth } = this.state.teeth;
    const { [name]: __, ...lines } = this.state.lines;
    return { teeth, lines };
  }

  withLine(name, clicks) { return { ...this.state, lines: { ...this.state.lines, [name]: clicks } }; }

  /** An outline with its clicks changed; only the segments that are not given are drawn anew. */
  async withOutline(tooth, clicks, known) {
    const ends = clicks.map((click, index) => [click, clicks[(index + 1) % clicks.length]]);
    const lacking = clicks.length < 2 ? [] : ends.filter((_, index) => !known[index]);
    const drawn = lacking.length ? (await ask("POST", `${this.src}/snap`, { segments: lacking, ...this.reading })).segments : [];
    const segments = clicks.length < 2 ? [] : ends.map((_, index) => known[index] ?? drawn.shift());
    return { ...this.state, teeth: { ...this.state.teeth, [tooth]: { clicks, segments } } };
  }

  async clicked({ x, y }) {
    const { hand, clicks } = this;
    const click = [Math.round(x * 10) / 10, Math.round(y * 10) / 10];
    if (hand in LINES) return this.keep(this.withLine(hand, [...clicks, click].slice(-LINES[hand])));
    const { segments = [] } = this.state.teeth[hand] ?? {};
    if (clicks.length < 3) return this.keep(await this.withOutline(hand, [...clicks, click], segments.slice(0, -1)));
    const at = segments.map((line) => Math.min(...line.map(([a, b]) => Math.hypot(a - click[0], b - click[1]))));
    const split = at.indexOf(Math.min(...at));
    const kept = [...segments.slice(0, split), null, null, ...segments.slice(split + 1)];
    this.keep(await this.withOutline(hand, clicks.toSpliced(split + 1, 0, click), kept));
    tell(null);
  }

  async moved({ id, x, y }) {
    const { hand, clicks } = this;
    const changed = clicks.with(Number(id), [Math.round(x * 10) / 10, Math.round(y * 10) / 10]);
    if (hand in LINES) return this.keep(this.withLine(hand, changed));
    const { segments } = this.state.teeth[hand];
    const before = (Number(id) + clicks.length - 1) % clicks.length;
    this.keep(await this.withOutline(hand, changed, segments.map((line, index) => (index === Number(id) || index === before ? null : line))));
  }

  async removed({ id }) {
    const { hand, clicks } = this;
    const left = clicks.toSpliced(Number(id), 1);
    if (left.length === 0) return this.keep(this.without(hand));
    if (hand in LINES) return this.keep(this.withLine(hand, left));
    const { segments } = this.state.teeth[hand];
    const before = (Number(id) + clicks.length - 1) % clicks.length;
    const kept = segments.map((line, index) => (index === before ? null : line)).toSpliced(Number(id), 1);
    this.keep(await this.withOutline(hand, left, kept));
  }

  wrong(error) {
    this.querySelector(".said").textContent = error.name === "AbortError" ? words.stopped : error.message;
    tell(error);
    this.draw();
  }

  async working(path, body) {
    const [cancel, bar, status] = ["[data-cancel]", "progress", ".said"].map((each) => this.querySelector(each));
    this.stop = new AbortController();
    cancel.hidden = bar.hidden = false;
    try {
      const done = await watch("POST", `${this.src}/${path}`, body, { signal: this.stop.signal, step: stepOn(bar, status) });
      status.textContent = done.notes.join(" · ");
      tell(null);
      return done;
    } catch (error) {
      this.wrong(error);
      return null;
    } finally {
      cancel.hidden = bar.hidden = true;
    }
  }

  async find() {
    const found = await this.working("outlines", this.reading);
    if (found) this.keep({ ...this.state, teeth: found.teeth });
  }

  /** The mark file, festoon-marks/1. */
  get marks() {
    const { lip_line, midline, horizontal, ruler } = this.state.lines;
    const teeth = Object.fromEntries(Object.entries(this.state.teeth).filter(([, one]) => one.clicks.length > 2).map(([tooth, { segments }]) => [tooth, { outline: segments.flatMap((line) => line.slice(0, -1)) }]));
    const photo = { sha256: this.getAttribute("sha256"), width_px: this.size?.width ?? 0, height_px: this.size?.height ?? 0 };
    const marks = { format: "festoon-marks/1", photo, view: this.field("view"), teeth };
    if (lip_line?.length > 1) marks.lip_line = lip_line;
    if (midline?.length > 1) marks.midline = midline;
    if (horizontal?.length === 2) marks.horizontal = horizontal;
    if (ruler?.length === 2) marks.lengths = [{ name: "ruler", start: ruler[0], end: ruler[1], length_mm: this.number("ruler_mm"), se_mm: this.number("ruler_se") }];
    return marks;
  }

  async measure() {
    const known = [...this.querySelectorAll("[data-width]")].filter((field) => field.value.trim()).map((field) => ({ tooth: field.dataset.width, mm: Number(field.value.replace(",", ".")) }));
    const body = { ...this.reading, marks: this.marks, known, same_tissue: this.querySelector("[name=same_tissue]").checked };
    if (this.field("marker_mm").trim()) body.marker = { side_mm: this.number("marker_mm"), se_mm: this.number("marker_se") };
    if (this.field("scan")) body.scan = this.field("scan");
    body.with_plan = this.querySelector("[name=with_plan]").checked;
    const other = this.field("earlier") && document.querySelector(`photo-measuring[sha256="${this.field("earlier")}"]`);
    if (other) body.earlier = { sha256: this.field("earlier"), marks: other.marks };
    const said = await this.working("photo-readings", body);
    if (!said) return;
    this.querySelector("readings-list").show(said.readings);
    for (const name of ["picture", "planned", "beside"]) {
      const shown = this.querySelector(`[data-picture=${name}]`);
      shown.hidden = !said[name];
      if (said[name]) shown.querySelector("img").src = `data:image/png;base64,${said[name]}`;
    }
  }
}

customElements.define("photo-measuring", PhotoMeasuring);
