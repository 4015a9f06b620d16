/**
 * `<time-line>`: makes the points of a drawing rendered by the server (margins over time) readable by keyboard.
 * Each point is an element with `data-says`; Tab enters the drawing, the arrows walk from point to point, Home and End
 * go to the first and the last, and what the point says is shown and announced below.
 */
class TimeLine extends HTMLElement {
  connectedCallback(): void {
    const points = [...this.querySelectorAll<SVGElement>("svg [data-says]")];
    if (points.length === 0 || this.querySelector(".time-line-says")) return;
    const words = document.createElement("p");
    words.className = "time-line-says";
    words.setAttribute("aria-live", "polite");
    this.append(words);
    points.forEach((point, i) => {
      point.setAttribute("tabindex", i === 0 ? "0" : "-1");
      point.setAttribute("role", "img");
      point.setAttribute("aria-label", point.dataset.says ?? "");
      point.addEventListener("focus", () => {
        for (const other of points) other.setAttribute("tabindex", other === point ? "0" : "-1");
        words.textContent = point.dataset.says ?? "";
      });
      point.addEventListener("pointerdown", () => point.focus());
      point.addEventListener("keydown", (event) => {
        const to = { ArrowRight: i + 1, ArrowLeft: i - 1, Home: 0, End: points.length - 1 }[event.key];
        if (to === undefined) return;
        event.preventDefault();
        points[Math.min(points.length - 1, Math.max(0, to))]?.focus();
      });
    });
  }
}

customElements.define("time-line", TimeLine);
