// <scan-readings case version src kind words label>: one attached scan: shown, measured, its margins corrected by points set on the
// surface, its readings listed with their errors and taken into the chart. The points are kept by the browser until they are taken.
import { ask, tell, watch, words } from "/look/api.js";

/** A point further than this from every margin belongs to none, mm. */
const FAR = 4;

class ScanReadings extends HTMLElement {
  connectedCallback() {
    this.key = `points ${this.getAttribute("src")}`;
    this.points = JSON.parse(sessionStorage.getItem(this.key) ?? "[]");
    this.on("[data-measure]", () => this.measure());
    this.on("[data-cancel]", () => this.stop?.abort());
    this.on("[data-take]", () => this.take());
    this.on("[data-back]", () => this.set(this.points.slice(0, -1)));
    this.on("[data-clear]", () => this.set([]));
    this.addEventListener("surface-pick", (event) => this.picked(event.detail.xyz));
    this.show();
  }

  on(selector, done) { this.querySelector(selector).addEventListener("click", done); }

  say(selector, text) { this.querySelector(selector).textContent = text; }

  get chosen() {
    return Object.fromEntries([...this.querySelectorAll("select:not([data-aside])")].filter((field) => field.value).map((field) => [field.name, field.value]));
  }

  /** The surface itself; where a browser cannot show it, the component says so in words. */
  show(said) {
    if (!/\.(ply|stl)$/.test(this.getAttribute("kind"))) return;
    this.view = document.createElement("mesh-view");
    for (const name of ["src", "words", "label"]) this.view.setAttribute(name, this.getAttribute(name));
    if (said) {
      this.view.setAttribute("frame", JSON.stringify(said.frame));
      this.view.setAttribute("jaw", said.jaw);
      this.view.setAttribute("unit-mm", said.mm_per_unit);
      this.view.addEventListener("mesh-shown", () => this.draw());
    }
    this.querySelector(".scan-shown").replaceChildren(this.view);
  }

  draw() { this.view?.draw?.(this.margins, this.points.map((one) => one.point)); }

  async measure() {
    const [cancel, bar] = [this.querySelector("[data-cancel]"), this.querySelector("progress")];
    const step = ({ share, what }) => { if (share === null) bar.removeAttribute("value"); else bar.value = share; this.say(".said", `${words.working}: ${what}`); };
    this.stop = new AbortController();
    cancel.hidden = bar.hidden = false;
    try {
      const said = await this.asked(true, { signal: this.stop.signal, step });
      this.show(said);
      this.took(said);
      const picture = this.querySelector(".scan-picture");
      picture.src = `data:image/png;base64,${said.picture}`;
      picture.hidden = false;
      this.say(".said", said.notes.join(" · "));
    } catch (error) {
      this.say(".said", error.name === "AbortError" ? words.stopped : error.message);
      tell(error);
    } finally {
      cancel.hidden = bar.hidden = true;
    }
  }

  async asked(picture, how) {
    const said = await watch("POST", `${this.getAttribute("src")}/measure`, { ...this.chosen, points: this.points, picture }, how);
    tell(null);
    return said;
  }

  took(said) {
    this.margins = said.margins;
    this.readings = said.readings;
    this.list(said.readings.readings);
    const link = this.querySelector(".scan-kept a[download]");
    URL.revokeObjectURL(link.href);
    link.href = URL.createObjectURL(new Blob([JSON.stringify(said.readings, null, 1)], { type: "application/json" }));
    for (const part of this.querySelectorAll(".scan-kept, .scan-correct")) part.hidden = false;
    this.querySelector("[data-back]").disabled = this.querySelector("[data-clear]").disabled = this.points.length === 0;
  }

  /** A point belongs to the margin nearest to it, unless a tooth is named. */
  picked(xyz) {
    if (!this.margins) return;
    let tooth = this.querySelector("[name=of-tooth]").value;
    let near = FAR;
    for (const [name, along] of Object.entries(tooth ? {} : this.margins)) {
      for (const place of along) {
        const apart = Math.hypot(...place.map((value, axis) => value - xyz[axis]));
        if (apart < near) [near, tooth] = [apart, name];
      }
    }
    if (tooth) this.set([...this.points, { tooth, point: xyz.map((value) => Number(value.toFixed(3))) }]);
    else this.say(".corrected", words.far);
  }

  /** All points so far are sent each time; what is refused is not kept. */
  async set(points) {
    const before = this.points;
    this.points = points;
    try {
      this.took(await this.asked(false));
      sessionStorage.setItem(this.key, JSON.stringify(points));
      this.say(".corrected", points.length ? `${words.set}: ${points.map((one) => one.tooth).join(", ")}` : "");
    } catch (error) {
      this.points = before;
      this.say(".corrected", error.message);
      tell(error);
    }
    this.draw();
  }

  list(readings) {
    const room = this.querySelector(".ledger-room");
    const unticked = new Set([...room.querySelectorAll("tbody input:not(:checked)")].map((tick) => tick.ariaLabel));
    const listed = room.querySelector("tbody").childElementCount > 0;
    room.querySelector("tbody").replaceChildren(...readings.map((reading) => {
      const row = document.createElement("tr");
      const tick = document.createElement("input");
      tick.type = "checkbox";
      tick.ariaLabel = `${words.take} ${reading.tooth ?? ""} ${reading.site ?? ""} ${reading.quantity.replaceAll("_", " ")}`;
      tick.checked = listed ? !unticked.has(tick.ariaLabel) : !reading.flag;
      row.insertCell().append(tick);
      const cells = [reading.tooth ?? "", reading.site?.replaceAll("_", " ") ?? "", reading.quantity.replaceAll("_", " "), reading.value.toFixed(2), reading.se ? `± ${reading.se.toFixed(2)}` : "", reading.flag ?? ""];
      for (const text of cells) row.insertCell().textContent = text;
      return row;
    }));
    room.hidden = false;
  }

  /** The chosen readings become entries of the chart; what has a remark is chosen only by hand. */
  async take() {
    const ticks = [...this.querySelectorAll(".ledger-room tbody input")];
    const readings = { ...this.readings, readings: this.readings.readings.filter((_, index) => ticks[index].checked) };
    const body = { base: Number(this.getAttribute("version")), readings };
    const day = this.querySelector("[name=taken-on]").value;
    if (day) body.at = day;
    try {
      const kept = await ask("POST", `/api/cases/${encodeURIComponent(this.getAttribute("case"))}/readings`, body);
      for (const one of document.querySelectorAll("scan-readings")) one.setAttribute("version", kept.version);
      tell(null);
      this.say(".taken", [words.taken, ...kept.left, ...kept.notes].join(" · "));
    } catch (error) {
      this.say(".taken", error.message);
      tell(error);
    }
  }
}

customElements.define("scan-readings", ScanReadings);
