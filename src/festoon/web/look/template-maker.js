// <template-maker case>: asks for a template, shows how far it is, and loads the page again once it is kept.
import { inWords, stepOn, tell, watch } from "/look/api.js";

class TemplateMaker extends HTMLElement {
  stop = new AbortController();

  connectedCallback() {
    this.find("[data-make]").addEventListener("click", () => this.make());
    this.find("[data-cancel]").addEventListener("click", () => this.stop.abort());
  }

  /** @param {string} selector */
  find(selector) { return /** @type {HTMLButtonElement} */ (this.querySelector(selector)); }

  get case() { return `/api/cases/${encodeURIComponent(this.getAttribute("case") ?? "")}`; }

  /** What was typed, with numbers as numbers; what is empty is chosen or found. */
  get wanted() {
    const fields = /** @type {HTMLInputElement[]} */ ([...this.querySelectorAll("[name]")]);
    const said = Object.fromEntries(fields.filter((field) => field.value.trim()).map((field) => [field.name, field.value.trim()]));
    const { wall, clearance, build_volume: volume, ...others } = said;
    return {
      ...others,
      ...(wall && { wall: number(wall) }),
      ...(clearance && { clearance: number(clearance) }),
      ...(volume && { build_volume: volume.split(/\s*[x×*;]\s*|\s+/).map(number) }),
      points: JSON.parse(localStorage.getItem(`points ${this.case}/files/${said.scan}`) ?? "[]"),
    };
  }

  async make() {
    const [make, cancel] = [this.find("[data-make]"), this.find("[data-cancel]")];
    const bar = /** @type {HTMLProgressElement} */ (this.querySelector("progress"));
    const status = /** @type {HTMLElement} */ (this.querySelector(".said"));
    this.stop = new AbortController();
    make.disabled = true;
    cancel.hidden = bar.hidden = false;
    try {
      await watch("POST", `${this.case}/templates`, this.wanted, { signal: this.stop.signal, step: stepOn(bar, status) });
      location.reload();
    } catch (error) {
      status.replaceChildren(inWords(error));
      tell(error);
    } finally {
      make.disabled = false;
      cancel.hidden = bar.hidden = true;
    }
  }
}

/** @param {string} text */
function number(text) {
  return Number(text.replace(",", "."));
}

customElements.define("template-maker", TemplateMaker);
