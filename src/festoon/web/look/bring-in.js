// <bring-in>: a table or a case file, looked at before it is kept. The file stays in the form: what is kept is what was looked at.
// Whatever is ticked or declared otherwise is looked at again by itself; until that is answered nothing can be kept.
import { ask, inWords, tell } from "/look/api.js";

/** @typedef {import("./api-types").Routes} Routes */

/** How long hands must rest on a field before what it says is looked at again, ms. */
const REST = 350;

class BringIn extends HTMLElement {
  resting = 0;
  /** Stops the look that is under way. */
  stop = new AbortController();

  get form() { return /** @type {HTMLFormElement} */ (this.querySelector("form")); }

  /** Where the preview is shown. */
  get place() { return /** @type {HTMLElement} */ (this.querySelector(".bring-in-said")); }

  /** Says what went wrong. */
  get status() { return /** @type {HTMLElement} */ (this.querySelector(".said")); }

  get cancel() { return /** @type {HTMLButtonElement} */ (this.querySelector("[data-cancel]")); }

  connectedCallback() {
    this.form.addEventListener("submit", (event) => { event.preventDefault(); this.run(event.submitter, () => this.look(true)); });
    this.form.addEventListener("input", () => this.again(REST));
    this.place.addEventListener("change", () => this.again(0));
    this.cancel.addEventListener("click", () => this.stop.abort());
    this.addEventListener("click", (event) => {
      const button = /** @type {HTMLElement} */ (event.target).closest("button");
      if (button?.matches("[data-keep]")) this.run(button, () => this.keep(button.dataset.base ?? "", button.dataset.sha256 ?? ""));
    });
  }

  /** A preview that no longer holds is made anew, without taking the keyboard away from where it is. @param {number} rest */
  again(rest) {
    if (!this.place.firstElementChild) return;
    this.holdBack();
    clearTimeout(this.resting);
    this.resting = setTimeout(() => this.run(null, () => this.look(false)), rest);
  }

  holdBack() {
    for (const button of this.place.querySelectorAll("button")) button.disabled = true;
  }

  /** @param {HTMLElement | null} button @param {(signal: AbortSignal) => Promise<void>} work */
  async run(button, work) {
    this.stop.abort();
    const stop = new AbortController();
    this.stop = stop;
    if (button) button.dataset.busy = "";
    const slow = setTimeout(() => { this.cancel.hidden = false; }, 500);
    try {
      tell(null);
      this.status.replaceChildren();
      await work(stop.signal);
    } catch (error) {
      if (stop !== this.stop) return; // overtaken by a later look
      this.place.replaceChildren();
      this.status.replaceChildren(inWords(error));
      tell(error);
    } finally {
      clearTimeout(slow);
      if (stop === this.stop) this.cancel.hidden = true;
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

  /** @param {boolean} isFirst the preview takes the keyboard only where it was asked for */
  async look(isFirst) {
    const asked = this.asked();
    /** @type {Routes["POST /api/imports/preview"]["answer"]} */
    const seen = await ask("POST", "/api/imports/preview", asked, { signal: this.stop.signal });
    const { activeElement } = document;
    const line = activeElement instanceof HTMLInputElement ? activeElement.dataset.line : undefined;
    const rows = this.place.querySelector(".preview-rows");
    const from = rows?.scrollTop ?? 0;
    this.place.innerHTML = seen.said;
    const listed = this.place.querySelector(".preview-rows");
    if (listed && !isFirst) listed.scrollTop = from;
    if (isFirst) this.place.querySelector("section")?.focus();
    else if (line) /** @type {HTMLElement | null} */ (this.place.querySelector(`[data-line="${line}"]`))?.focus({ preventScroll: true });
    // A screen reader hears in one line what is to be seen in the preview.
    const heard = /** @type {HTMLElement} */ (this.querySelector("[data-heard]"));
    heard.textContent = this.place.querySelector("[data-summary]")?.textContent?.replace(/\s+/g, " ").trim() ?? "";
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
