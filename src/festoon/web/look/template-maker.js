// <template-maker case>: asks for a template, shows how far it is, and loads the page again once it is kept.
import { stepOn, tell, watch, words } from "/look/api.js";

class TemplateMaker extends HTMLElement {
  connectedCallback() {
    this.querySelector("[data-make]").addEventListener("click", () => this.make());
    this.querySelector("[data-cancel]").addEventListener("click", () => this.stop?.abort());
  }

  /** What was typed, with numbers as numbers; what is empty is chosen or found. */
  get wanted() {
    const said = Object.fromEntries([...this.querySelectorAll("[name]")].filter((field) => field.value.trim()).map((field) => [field.name, field.value.trim()]));
    for (const name of ["wall", "clearance"]) if (name in said) said[name] = Number(said[name].replace(",", "."));
    if (said.build_volume) said.build_volume = said.build_volume.split(/\s*[x×*;]\s*|\s+/).map((each) => Number(each.replace(",", ".")));
    const src = `/api/cases/${encodeURIComponent(this.getAttribute("case"))}/files/${said.scan}`;
    return { ...said, points: JSON.parse(localStorage.getItem(`points ${src}`) ?? "[]") };
  }

  async make() {
    const [make, cancel, bar, status] = ["[data-make]", "[data-cancel]", "progress", ".said"].map((each) => this.querySelector(each));
    const step = stepOn(bar, status);
    this.stop = new AbortController();
    make.disabled = true;
    cancel.hidden = bar.hidden = false;
    try {
      await watch("POST", `/api/cases/${encodeURIComponent(this.getAttribute("case"))}/templates`, this.wanted, { signal: this.stop.signal, step });
      location.reload();
    } catch (error) {
      status.textContent = error.name === "AbortError" ? words.stopped : error.message;
      tell(error);
    } finally {
      make.disabled = false;
      cancel.hidden = bar.hidden = true;
    }
  }
}

customElements.define("template-maker", TemplateMaker);
