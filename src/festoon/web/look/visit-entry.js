// <visit-entry case surgery>: one visit after surgery, kept as a whole under one key.
import { ask, tell } from "/look/api.js";

class VisitEntry extends HTMLElement {
  connectedCallback() {
    this.key = crypto.randomUUID();
    this.addEventListener("submit", (event) => this.keep(event));
  }

  async keep(event) {
    event.preventDefault();
    const { at, datum, satisfaction, complication, remark } = event.target.elements;
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
    const visit = { at: at.value, readings, papillae };
    if (satisfaction.value.trim()) visit.satisfaction = Number(satisfaction.value);
    if (complication.value === "-") visit.is_without_complications = true;
    else if (complication.value) visit.complications = [{ kind: complication.value }];
    if (remark.value.trim()) visit.remark = remark.value.trim();
    try {
      await ask("POST", `/api/cases/${encodeURIComponent(this.getAttribute("case"))}/surgeries/${this.getAttribute("surgery")}/visits`, { key: this.key, visit });
      location.replace(location.href);
    } catch (error) {
      tell(error);
    }
  }
}

customElements.define("visit-entry", VisitEntry);
