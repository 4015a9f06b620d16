// <bring-in>: a table or a case file, looked at before it is kept. The file stays in the form: what is kept is what was looked at.
import { ask, tell } from "/look/api.js";

class BringIn extends HTMLElement {
  connectedCallback() {
    this.form = this.querySelector("form");
    this.place = this.querySelector(".bring-in-said");
    this.form.addEventListener("submit", (event) => { event.preventDefault(); this.run(event.submitter, () => this.look()); });
    // What is declared has changed, so what was previewed no longer holds.
    this.form.addEventListener("input", () => this.place.replaceChildren());
    this.addEventListener("click", (event) => {
      const button = event.target.closest("button");
      if (button?.matches("[data-again]")) this.run(button, () => this.look());
      if (button?.matches("[data-keep]")) this.run(button, () => this.keep(button.dataset));
    });
    // Ticks changed: the preview has to be made again before anything is kept.
    this.place.addEventListener("change", () => { for (const button of this.place.querySelectorAll("[data-keep]")) button.disabled = true; });
  }

  async run(button, work) {
    if (button) button.dataset.busy = "";
    try {
      tell(null);
      await work();
    } catch (error) {
      tell(error);
    } finally {
      if (button) delete button.dataset.busy;
    }
  }

  asked() {
    const body = new FormData(this.form);
    const left = [...this.place.querySelectorAll("[data-line]:not(:checked)")].map((tick) => tick.dataset.line);
    body.set("left", left.join(","));
    return body;
  }

  async look() {
    const seen = await ask("POST", "/api/imports/preview", this.asked());
    this.place.innerHTML = seen.said;
    this.place.querySelector("section").focus();
  }

  async keep({ base, sha256 }) {
    const body = this.asked();
    body.set("base", base);
    body.set("sha256", sha256);
    const kept = await ask("POST", "/api/imports", body);
    location.assign(`/cases/${encodeURIComponent(kept.case)}/chart`);
  }
}

customElements.define("bring-in", BringIn);
