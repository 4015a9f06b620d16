// <visit-entry case surgery>: one visit after surgery, kept as a whole under one key; an earlier one is taken back, never erased.
import { ask, tell } from "/look/api.js";

class VisitEntry extends HTMLElement {
  connectedCallback() {
    this.key = crypto.randomUUID();
    this.edgeKey = crypto.randomUUID();
    this.path = `/api/cases/${encodeURIComponent(this.getAttribute("case"))}/surgeries/${this.getAttribute("surgery")}/visits`;
    this.addEventListener("submit", (event) => this.keep(event));
    this.addEventListener("click", (event) => this.takeBack(event.target.closest("[data-undo]")));
  }

  async keep(event) {
    event.preventDefault();
    if ("edge" in event.target.dataset) return this.keepEdge(event.target);
    const { at, datum, satisfaction, complication, what, remark } = event.target.elements;
    const readings = [];
    for (const field of this.querySelectorAll("[data-quantity]")) {
      const text = field.value.trim().replace(",", ".");
      if (!text) continue;
      const value = Number(text);
      field.setAttribute("aria-invalid", !Number.isFinite(value));
      if (!Number.isFinite(value)) return field.focus();
      const reading = { tooth: field.dataset.tooth, site: "midfacial", quantity: field.dataset.quantity, value, at: at.value };
      readings.push(field.dataset.quantity.endsWith("_level") ? { ...reading, datum: datum.value } : reading);
    }
    const papillae = {};
    for (const field of this.querySelectorAll("[data-papilla]")) if (field.value) papillae[field.dataset.papilla] = field.value;
    const visit = { at: at.value, readings, papillae, sensitivity: {} };
    for (const field of this.querySelectorAll("[data-sensitivity]")) if (field.value.trim()) visit.sensitivity[field.dataset.sensitivity] = Number(field.value);
    if (satisfaction.value.trim()) visit.satisfaction = Number(satisfaction.value);
    if (complication.value === "-") visit.is_without_complications = true;
    else if (complication.value) visit.complications = [{ kind: complication.value, text: what.value.trim() || null }];
    if (remark.value.trim()) visit.remark = remark.value.trim();
    await this.put("POST", this.path, { key: this.key, visit });
  }

  /** Where the edge of a tooth lies from a day on. */
  async keepEdge(form) {
    const { at, tooth, edge, from_planned: field, source } = form.elements;
    const level = Number(field.value.trim().replace(",", ".").replace("−", "-"));
    field.setAttribute("aria-invalid", !Number.isFinite(level));
    if (!Number.isFinite(level)) return field.focus();
    const said = { at: at.value, tooth: tooth.value, edge: edge.value, from_planned_mm: level, source: source.value };
    await this.put("POST", this.path.replace(/visits$/, "edges"), { key: this.edgeKey, edge: said });
  }

  async takeBack(button) {
    if (button) await this.put("DELETE", `${this.path}/${button.dataset.undo}?key=${crypto.randomUUID()}`);
  }

  async put(how, path, body) {
    try {
      await ask(how, path, body);
      location.replace(location.href);
    } catch (error) {
      tell(error);
    }
  }
}

customElements.define("visit-entry", VisitEntry);
