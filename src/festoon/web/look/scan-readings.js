// <scan-readings src kind words label>: one attached scan, shown, measured, and its readings listed with their errors.
import { ask, tell, words } from "/look/api.js";

class ScanReadings extends HTMLElement {
  connectedCallback() {
    this.querySelector("[data-measure]").addEventListener("click", () => this.measure());
    this.querySelector("[data-cancel]").addEventListener("click", () => this.stop?.abort());
    this.querySelector("[data-take]").addEventListener("click", () => this.take());
    this.show({});
  }

  /** The surface itself; where a browser cannot show it, the component says so in words. */
  show(said) {
    if (!/\.(ply|stl)$/.test(this.getAttribute("kind"))) return;
    const view = document.createElement("mesh-view");
    for (const name of ["src", "words", "label"]) view.setAttribute(name, this.getAttribute(name));
    if (said.frame) { view.setAttribute("frame", JSON.stringify(said.frame)); view.setAttribute("jaw", said.jaw); }
    this.querySelector(".scan-shown").replaceChildren(view);
  }

  async measure() {
    const [cancel, status] = [this.querySelector("[data-cancel]"), this.querySelector(".said")];
    const body = {};
    for (const field of this.querySelectorAll("select")) if (field.value) body[field.name] = field.value;
    this.stop = new AbortController();
    cancel.hidden = false;
    status.textContent = `${words.working} …`;
    try {
      const said = await ask("POST", `${this.getAttribute("src")}/measure`, body, { signal: this.stop.signal });
      tell(null);
      this.show(said);
      const picture = new Image();
      picture.src = `data:image/png;base64,${said.picture}`;
      picture.alt = this.getAttribute("label");
      picture.className = "scan-picture";
      this.querySelector(".scan-shown").append(picture);
      this.readings = said.readings;
      this.list(said.readings.readings);
      const link = this.querySelector(".scan-kept a");
      link.href = URL.createObjectURL(new Blob([JSON.stringify(said.readings, null, 1)], { type: "application/json" }));
      this.querySelector(".scan-kept").hidden = false;
      status.textContent = said.notes.join(" · ");
    } catch (error) {
      status.textContent = error.name === "AbortError" ? "" : error.message;
      tell(error);
    } finally {
      cancel.hidden = true;
    }
  }

  list(readings) {
    const room = this.querySelector(".ledger-room");
    room.querySelector("tbody").replaceChildren(...readings.map((reading) => {
      const row = document.createElement("tr");
      const tick = document.createElement("input");
      tick.type = "checkbox";
      tick.checked = !reading.flag;
      tick.ariaLabel = `${words.take} ${reading.tooth ?? ""} ${reading.site ?? ""} ${reading.quantity.replaceAll("_", " ")}`;
      row.insertCell().append(tick);
      const cells = [reading.tooth ?? "", reading.site ?? "", reading.quantity.replaceAll("_", " "), reading.value.toFixed(2), reading.se ? `± ${reading.se.toFixed(2)}` : "", reading.flag ?? ""];
      for (const text of cells) row.insertCell().textContent = text;
      return row;
    }));
    room.hidden = false;
  }

  /** The chosen readings become entries of the chart; what has a flag is chosen only by hand. */
  async take() {
    const ticks = [...this.querySelectorAll(".ledger-room tbody input")];
    const readings = { ...this.readings, readings: this.readings.readings.filter((_, index) => ticks[index].checked) };
    const body = { base: Number(this.getAttribute("version")), readings };
    const day = this.querySelector("[name=taken-on]").value;
    if (day) body.at = day;
    const status = this.querySelector(".taken");
    try {
      const kept = await ask("POST", `/api/cases/${encodeURIComponent(this.getAttribute("case"))}/readings`, body);
      for (const one of document.querySelectorAll("scan-readings")) one.setAttribute("version", kept.version);
      tell(null);
      status.textContent = [words.taken, ...kept.left, ...kept.notes].join(" · ");
    } catch (error) {
      status.textContent = error.message;
      tell(error);
    }
  }
}

customElements.define("scan-readings", ScanReadings);
