// <readings-list case version label>: readings of a scan or a photograph with their errors; the ticked ones are taken into the chart.
import { ask, english, inWords, tell, words } from "/look/api.js";

/** @typedef {import("./api-types").Readings} Readings */

/** Sites and quantities in the reader's language, by the words of the data. @type {Record<string, string>} */
const vocabulary = JSON.parse(document.getElementById("vocabulary")?.textContent ?? "{}");

class ReadingsList extends HTMLElement {
  /** @type {Readings | null} */
  readings = null;

  connectedCallback() {
    this.find("[data-take]").addEventListener("click", () => this.take());
  }

  /** @param {string} selector */
  find(selector) { return /** @type {HTMLElement} */ (this.querySelector(selector)); }

  get ticks() { return /** @type {HTMLInputElement[]} */ ([...this.querySelectorAll("tbody input")]); }

  /**
   * What is doubtful (unless told, what has a remark) is chosen only by hand; what was unticked stays so when the same is measured again.
   * @param {Readings} readings @param {boolean[]} [doubtful]
   */
  show(readings, doubtful) {
    const listed = readings.readings ?? [];
    const isAgain = this.ticks.length > 0;
    this.readings = readings;
    const unticked = new Set(this.ticks.filter((tick) => !tick.checked).map((tick) => tick.ariaLabel));
    this.find("tbody").replaceChildren(...listed.map((reading, index) => {
      const row = document.createElement("tr");
      const tick = document.createElement("input");
      const [site, quantity] = [reading.site ?? "", reading.quantity].map(said);
      const tooth = reading.tooth ?? "";
      tick.type = "checkbox";
      tick.ariaLabel = `${words.take} ${tooth} ${site} ${quantity}`;
      tick.checked = isAgain ? !unticked.has(tick.ariaLabel) : !(doubtful ? doubtful[index] : reading.flag);
      row.insertCell().append(tick);
      const unit = ["mm", "1"].includes(reading.unit ?? "mm") ? "" : ` ${said(reading.unit ?? "")}`;
      const cells = [tooth, site, quantity, `${reading.value.toFixed(2)}${unit}`, reading.se ? `± ${reading.se.toFixed(2)}` : "", english(reading.flag ?? "")];
      for (const text of cells) row.insertCell().append(text);
      return row;
    }));
    const link = /** @type {HTMLAnchorElement} */ (this.find("a[download]"));
    URL.revokeObjectURL(link.href);
    link.href = URL.createObjectURL(new Blob([JSON.stringify(readings, null, 1)], { type: "application/json" }));
    this.hidden = false;
  }

  async take() {
    const { ticks, readings } = this;
    if (!readings) return;
    const day = /** @type {HTMLInputElement} */ (this.find("[name=taken-on]")).value;
    /** @type {import("./api-types").TakeWanted} */
    const body = {
      base: Number(this.getAttribute("version")),
      readings: { ...readings, readings: (readings.readings ?? []).filter((_, index) => ticks[index].checked) },
      ...(day && { at: day }),
    };
    const status = this.find(".taken");
    try {
      /** @type {import("./api-types").Taken} */
      const kept = await ask("POST", `/api/cases/${encodeURIComponent(this.getAttribute("case") ?? "")}/readings`, body);
      for (const one of document.querySelectorAll("readings-list")) one.setAttribute("version", String(kept.version));
      tell(null);
      status.replaceChildren(words.taken, ...[...kept.left, ...(kept.notes ?? [])].flatMap((text) => [" · ", english(text)]));
      this.dispatchEvent(new CustomEvent("case-kept", { bubbles: true, detail: kept.version }));
    } catch (error) {
      status.replaceChildren(inWords(error));
      tell(error);
    }
  }
}

/** @param {string} word of the data */
function said(word) {
  const plain = word.replaceAll("_", " ");
  return vocabulary[plain] ?? plain;
}

customElements.define("readings-list", ReadingsList);
