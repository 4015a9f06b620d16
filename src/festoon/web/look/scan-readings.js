// <scan-readings src kind words label>: one attached scan: shown, measured, its margins corrected by points set on the surface. The
// points are kept by the browser; what they come to is listed in its <readings-list>.
import { stepOn, tell, watch, words } from "/look/api.js";

/** A point further than this from every margin belongs to none, mm. */
const FAR = 4;

class ScanReadings extends HTMLElement {
  connectedCallback() {
    this.key = `points ${this.getAttribute("src")}`;
    this.points = JSON.parse(localStorage.getItem(this.key) ?? "[]");
    this.on("[data-measure]", () => this.measure());
    this.on("[data-cancel]", () => this.stop?.abort());
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
    const step = stepOn(bar, this.querySelector(".said"));
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
    this.querySelector("readings-list").show(said.readings, said.doubtful);
    this.querySelector(".scan-correct").hidden = false;
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
      localStorage.setItem(this.key, JSON.stringify(points));
      this.say(".corrected", points.length ? `${words.set}: ${points.map((one) => one.tooth).join(", ")}` : "");
    } catch (error) {
      this.points = before;
      this.say(".corrected", error.message);
      tell(error);
    }
    this.draw();
  }
}

customElements.define("scan-readings", ScanReadings);
