// <waits-for>: a list of cases is shown from the records alone; what they cannot tell is asked for, case by case, once the list is there.

class WaitsFor extends HTMLElement {
  async connectedCallback() {
    for (const cell of this.querySelectorAll("td")) {
      if (!cell.dataset.case) continue;
      const answer = await fetch(`/cases/${encodeURIComponent(cell.dataset.case)}/waits`).catch(() => null);
      if (!answer) return;
      if (answer.ok) cell.textContent = await answer.text();
    }
  }
}

customElements.define("waits-for", WaitsFor);
