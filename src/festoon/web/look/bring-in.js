// @ts-check
// <bring-in>: a table or a case file, looked at before it is kept. The file stays in the form: what is kept is what was looked at.
import { ask, tell } from "/look/api.js";

/** @typedef {import("./api-types").Routes} Routes */

class BringIn extends HTMLElement {
  get form() { return /** @type {HTMLFormElement} */ (this.querySelector("form")); }

  /** Where the preview is shown. */
  get place() { return /** @type {HTMLElement} */ (this.querySelector(".bring-in-said")); }

  connectedCallback() {
    this.form.addEventListener("submit", (event) => { event.preventDefault(); this.run(event.submitter, () => this.look()); });
    // What is declared has changed, so what was previewed no longer holds.
    this.form.addEventListener("input", () => this.place.replaceChildren());
    this.addEventListener("click", (event) => {
      const button = /** @type {HTMLElement} */ (event.target).closest("button");
      if (button?.matches("[data-again]")) this.run(button, () => this.look());
      if (button?.matches("[data-keep]")) this.run(button, () => this.keep(button.dataset.base ?? "", button.dataset.sha256 ?? ""));
    });
    // Ticks changed: the preview has to be made again before anything is kept.
    this.place.addEventListener("change", () => {
      for (const button of this.place.querySelectorAll("button")) if (button.matches("[data-keep]")) button.disabled = true;
    });
  }

  /** @param {HTMLElement | null} button @param {() => Promise<void>} work */
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
    const left = [];
    for (const tick of this.place.querySelectorAll("input")) if (tick.dataset.line && !tick.checked) left.push(tick.dataset.line);
    body.set("left", left.join(","));
    return body;
  }

  async look() {
    /** @type {Routes["POST /api/imports/preview"]["answer"]} */
    const seen = await ask("POST", "/api/imports/preview", this.asked());
    this.place.innerHTML = seen.said;
    this.place.querySelector("section")?.focus();
  }

  /** @param {string} base @param {string} sha256 */
  async keep(base, sha256) {
    const body = this.asked();
    body.set("base", base);
    body.set("sha256", sha256);
    /** @type {Routes["POST /api/imports"]["answer"]} */
    const kept = await ask("POST", "/api/imports", body);
    location.assign(`/cases/${encodeURIComponent(kept.case)}/chart`);
  }
}

customElements.define("bring-in", BringIn);
