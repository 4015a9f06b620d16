// <readings-list case version label>: readings of a scan or a photograph with their errors; the ticked ones are taken into the chart.
import { ask, tell, words } from "/look/api.js";

class ReadingsList extends HTMLElement {
  connectedCallback() {
    this.querySelector("[data-take]").addEventListener("click", () => this.take());
  }

  get ticks() { return [...this.querySelectorAll("tbody input")]; }

  /** What is doubtful (unless told, what has a remark) is chosen only by hand; what was unticked stays so when the same is measured again. */
  show(readings, doubtful = readings.readings.map((reading) => Boolean(reading.flag))) {
    this.readings = readings;
    const unticked = new Set(this.ticks.filter((tick) => !tick.checked).map((tick) => tick.ariaLabel));
    const listed = this.ticks.length > 0;
    this.querySelector("tbody").replaceChildren(...readings.readings.map((reading, index) => {
      const row = document.createElement("tr");
      const tick = document.createElement("input");
      const [tooth, site, quantity] = [reading.tooth ?? "", reading.site ?? "", reading.quantity].map((text) => text.replaceAll("_", " "));
      tick.type = "checkbox";
      tick.ariaLabel = `${words.take} ${tooth} ${site} ${quantity}`;
      tick.checked = listed ? !unticked.has(tick.ariaLabel) : !doubtful[index];
      row.insertCell().append(tick);
      const unit = ["mm", "1"].includes(reading.unit) ? "" : ` ${reading.unit.replaceAll("_", " ")}`;
      const cells = [tooth, site, quantity, `${reading.value.toFixed(2)}${unit}`, reading.se ? `± ${reading.se.toFixed(2)}` : "", reading.flag ?? ""];
      for (const text of cells) row.insertCell().textContent = text;
      return row;
    }));
    const link = this.querySelector("a[download]");
    URL.revokeObjectURL(link.href);
    link.href = URL.createObjectURL(new Blob([JSON.stringify(readings, null, 1)], { type: "application/json" }));
    this.hidden = false;
  }

  async take() {
    const { ticks } = this;
    const readings = { ...this.readings, readings: this.readings.readings.filter((_, index) => ticks[index].checked) };
    const body = { base: Number(this.getAttribute("version")), readings };
    const day = this.querySelector("[name=taken-on]").value;
    if (day) body.at = day;
    const status = this.querySelector(".taken");
    try {
      const kept = await ask("POST", `/api/cases/${encodeURIComponent(this.getAttribute("case"))}/readings`, body);
      for (const one of document.querySelectorAll("readings-list")) one.setAttribute("version", kept.version);
      tell(null);
      status.textContent = [words.taken, ...kept.left, ...kept.notes].join(" · ");
    } catch (error) {
      status.textContent = error.message;
      tell(error);
    }
  }
}

customElements.define("readings-list", ReadingsList);
