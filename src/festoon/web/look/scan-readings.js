// <scan-readings src kind words label>: one attached scan: shown, measured, its margins corrected by points set on the surface. The
// points are kept by the browser; what they come to is listed in its <readings-list>.
import { inWords, stepOn, tell, watch, words } from "/look/api.js";

/** @typedef {import("./api-types").PointSet} PointSet */
/**
 * What a scan says, the last line of its answer.
 * @typedef {{ readings: import("./api-types").Readings, doubtful: boolean[], notes: string[], frame: number[], mm_per_unit: number, jaw: string, margins: Record<string, number[][]>, picture: string | null }} Measured
 */
/** The surface in three dimensions, which comes with the bundle. @typedef {HTMLElement & { draw?: (margins: Record<string, number[][]>, points: number[][]) => void }} MeshView */

/** A point further than this from every margin belongs to none, mm. */
const FAR = 4;

class ScanReadings extends HTMLElement {
  key = `points ${this.src}`;
  /** @type {PointSet[]} */
  points = JSON.parse(localStorage.getItem(this.key) ?? "[]");
  /** @type {Record<string, number[][]> | null} */
  margins = null;
  /** @type {MeshView | null} */
  view = null;
  stop = new AbortController();

  connectedCallback() {
    this.on("[data-measure]", () => this.measure());
    this.on("[data-cancel]", () => this.stop.abort());
    this.on("[data-back]", () => this.set(this.points.slice(0, -1)));
    this.on("[data-clear]", () => this.set([]));
    this.addEventListener("surface-pick", (event) => this.picked(/** @type {CustomEvent<{ xyz: [number, number, number] }>} */ (event).detail.xyz));
    this.show(null);
  }

  get src() { return this.getAttribute("src") ?? ""; }

  /** @param {string} selector */
  find(selector) { return /** @type {HTMLElement} */ (this.querySelector(selector)); }

  /** @param {string} selector @param {() => void} done */
  on(selector, done) { this.find(selector).addEventListener("click", done); }

  get chosen() {
    const fields = /** @type {HTMLSelectElement[]} */ ([...this.querySelectorAll("select:not([data-aside])")]);
    return Object.fromEntries(fields.filter((field) => field.value).map((field) => [field.name, field.value]));
  }

  /** Numbers set by a person, found to given; a word that is no pair is sent as it is, so that the answer says what is wrong. */
  get numbers() {
    const typed = /** @type {HTMLInputElement} */ (this.find("[name=numbers]")).value.split(/[\s,;]+/).filter(Boolean);
    return Object.fromEntries(typed.map((pair) => { const [found, given] = pair.split("="); return [found, given ?? ""]; }));
  }

  /** The surface itself; where a browser cannot show it, the component says so in words. @param {Measured | null} said */
  show(said) {
    if (!/\.(ply|stl)$/.test(this.getAttribute("kind") ?? "")) return;
    const view = /** @type {MeshView} */ (document.createElement("mesh-view"));
    for (const name of ["src", "words", "label"]) view.setAttribute(name, this.getAttribute(name) ?? "");
    if (said) {
      view.setAttribute("frame", JSON.stringify(said.frame));
      view.setAttribute("jaw", said.jaw);
      view.setAttribute("unit-mm", String(said.mm_per_unit));
      view.addEventListener("mesh-shown", () => this.draw());
    }
    this.view = view;
    this.find(".scan-shown").replaceChildren(view);
  }

  draw() { if (this.margins) this.view?.draw?.(this.margins, this.points.map((one) => one.point)); }

  async measure() {
    const bar = /** @type {HTMLProgressElement} */ (this.querySelector("progress"));
    const [cancel, status] = [this.find("[data-cancel]"), this.find(".said")];
    this.stop = new AbortController();
    cancel.hidden = bar.hidden = false;
    try {
      const said = await this.asked(true, { signal: this.stop.signal, step: stepOn(bar, status) });
      this.show(said);
      this.took(said);
      const picture = /** @type {HTMLImageElement} */ (this.querySelector(".scan-picture"));
      picture.src = `data:image/png;base64,${said.picture}`;
      picture.hidden = false;
      status.replaceChildren(inWords(new Error(said.notes.join(" · "))));
    } catch (error) {
      status.replaceChildren(inWords(error));
      tell(error);
    } finally {
      cancel.hidden = bar.hidden = true;
    }
  }

  /** @param {boolean} picture @param {Parameters<typeof watch>[3]} [how] @returns {Promise<Measured>} */
  async asked(picture, how) {
    const said = await watch("POST", `${this.src}/measure`, { ...this.chosen, numbers: this.numbers, points: this.points, picture }, how);
    tell(null);
    return said;
  }

  /** @param {Measured} said */
  took(said) {
    this.margins = said.margins;
    /** @type {HTMLElement & { show: (readings: Measured["readings"], doubtful: boolean[]) => void }} */ (this.find("readings-list")).show(said.readings, said.doubtful);
    this.find(".scan-correct").hidden = false;
    for (const name of ["back", "clear"]) /** @type {HTMLButtonElement} */ (this.find(`[data-${name}]`)).disabled = this.points.length === 0;
  }

  /** A point belongs to the margin nearest to it, unless a tooth is named. @param {[number, number, number]} xyz */
  picked(xyz) {
    if (!this.margins) return;
    let tooth = /** @type {HTMLSelectElement} */ (this.find("[name=of-tooth]")).value;
    let near = FAR;
    for (const [name, along] of Object.entries(tooth ? {} : this.margins)) {
      for (const place of along) {
        const apart = Math.hypot(...place.map((value, axis) => value - xyz[axis]));
        if (apart < near) [near, tooth] = [apart, name];
      }
    }
    const place = /** @type {PointSet["place"]} */ (/** @type {HTMLSelectElement} */ (this.find("[name=place]")).value);
    const [x, y, z] = xyz.map((value) => Number(value.toFixed(3)));
    if (tooth) this.set([...this.points, { tooth, point: [x, y, z], place }]);
    else this.find(".corrected").textContent = words.far;
  }

  /** All points so far are sent each time; what is refused is not kept. @param {PointSet[]} points */
  async set(points) {
    const before = this.points;
    this.points = points;
    try {
      this.took(await this.asked(false));
      localStorage.setItem(this.key, JSON.stringify(points));
      this.find(".corrected").textContent = points.length ? `${words.set}: ${points.map((one) => one.tooth).join(", ")}` : "";
    } catch (error) {
      this.points = before;
      this.find(".corrected").replaceChildren(inWords(error));
      tell(error);
    }
    this.draw();
  }
}

customElements.define("scan-readings", ScanReadings);
