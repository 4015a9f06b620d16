// <visit-entry case surgery>: one visit after surgery, kept as a whole under one key; an earlier one is taken back, never erased.
import { ask, tell } from "/look/api.js";

/** @typedef {HTMLInputElement | HTMLSelectElement} Field */
/** @typedef {import("./api-types").VisitEntry} Visit */
/** @typedef {import("./api-types").EdgeEntry} Edge */

class VisitEntry extends HTMLElement {
  key = crypto.randomUUID();
  edgeKey = crypto.randomUUID();
  path = `/api/cases/${encodeURIComponent(this.getAttribute("case") ?? "")}/surgeries/${this.getAttribute("surgery")}/visits`;

  connectedCallback() {
    this.addEventListener("submit", (event) => this.keep(event));
    this.addEventListener("click", (event) => this.takeBack(/** @type {HTMLElement} */ (event.target).closest("[data-undo]")));
  }

  /** Fields of this component that carry a datum of their own. @param {string} selector */
  fields(selector) { return /** @type {NodeListOf<Field>} */ (this.querySelectorAll(selector)); }

  /** @param {SubmitEvent} event */
  async keep(event) {
    event.preventDefault();
    const form = /** @type {HTMLFormElement} */ (event.target);
    if ("edge" in form.dataset) return this.keepEdge(form);
    const { at, datum, satisfaction, complication, what, remark } = named(form);
    const readings = [];
    for (const field of this.fields("[data-quantity]")) {
      const text = field.value.trim().replace(",", ".");
      if (!text) continue;
      const value = Number(text);
      field.setAttribute("aria-invalid", String(!Number.isFinite(value)));
      if (!Number.isFinite(value)) return field.focus();
      const quantity = field.dataset.quantity ?? "";
      const reading = { tooth: field.dataset.tooth, site: "midfacial", quantity, value, at: at.value };
      readings.push(quantity.endsWith("_level") ? { ...reading, datum: datum.value } : reading);
    }
    /** @type {Record<string, string>} */
    const papillae = {};
    for (const field of this.fields("[data-papilla]")) if (field.value) papillae[field.dataset.papilla ?? ""] = field.value;
    /** @type {Record<string, number>} */
    const sensitivity = {};
    for (const field of this.fields("[data-sensitivity]")) if (field.value.trim()) sensitivity[field.dataset.sensitivity ?? ""] = Number(field.value);
    const visit = {
      at: at.value, readings, papillae, sensitivity,
      ...(satisfaction.value.trim() && { satisfaction: Number(satisfaction.value) }),
      ...(complication.value === "-" && { is_without_complications: true }),
      ...(complication.value && complication.value !== "-" && { complications: [{ kind: complication.value, text: what.value.trim() || null }] }),
      ...(remark.value.trim() && { remark: remark.value.trim() }),
    };
    // Words out of the form's own choices: the route itself refuses what is none of them.
    await this.put("POST", this.path, { key: this.key, visit: /** @type {Visit} */ (/** @type {unknown} */ (visit)) });
  }

  /** Where the edge of a tooth lies from a day on. @param {HTMLFormElement} form */
  async keepEdge(form) {
    const { at, tooth, edge, from_planned: field, source } = named(form);
    const level = Number(field.value.trim().replace(",", ".").replace("−", "-"));
    field.setAttribute("aria-invalid", String(!Number.isFinite(level)));
    if (!Number.isFinite(level)) return field.focus();
    /** @type {Edge} */
    const said = { at: at.value, tooth: tooth.value, edge: /** @type {Edge["edge"]} */ (edge.value), from_planned_mm: level, source: source.value };
    await this.put("POST", this.path.replace(/visits$/, "edges"), { key: this.edgeKey, edge: said });
  }

  /** @param {HTMLElement | null} button */
  async takeBack(button) {
    if (button) await this.put("DELETE", `${this.path}/${button.dataset.undo}?key=${crypto.randomUUID()}`);
  }

  /** @param {string} how @param {string} path @param {{ key: string, visit: Visit } | { key: string, edge: Edge }} [body] */
  async put(how, path, body) {
    try {
      await ask(how, path, body);
      location.replace(location.href);
    } catch (error) {
      tell(error);
    }
  }
}

/** The fields of a form by their names. @param {HTMLFormElement} form */
function named(form) {
  return /** @type {Record<string, Field>} */ (/** @type {unknown} */ (form.elements));
}

customElements.define("visit-entry", VisitEntry);
