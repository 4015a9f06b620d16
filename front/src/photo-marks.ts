/**
 * `<photo-marks src words label>`: marks on a photograph, in its pixels. What is marked is the page's; this shows it and tells what
 * a person does: `draw(points, lines)` puts `{id, label, x, y}` as handles and `{label, dash, path, strong}` as lines on the picture.
 *
 * Drag a point, or focus it and press the arrows (Shift for ten pixels): `mark-moved` with `{id, x, y}`. Delete: `mark-removed`. A click
 * on the picture, or Enter: `picture-clicked` with `{x, y}`. The wheel, a pinch or + and - enlarge; dragging the picture moves it; 0
 * shows all. Ctrl-Z and Ctrl-Shift-Z: `marks-undo` and `marks-redo`.
 */
import { readJson, say } from "./attributes";
import { arrowStep, clamp, within, zoomed, type Window } from "./geometry";

export interface Mark {
  id: string;
  label: string;
  x: number;
  y: number;
}

export interface MarkLine {
  label: string;
  dash: string;
  path: [number, number][];
  /** True for the line in hand. */
  strong: boolean;
}

interface Words {
  /** With {name}, {x}, {y}. */
  point?: string;
  photo?: string;
  unreadable?: string;
}

const SVG = "http://www.w3.org/2000/svg";

function drawn<Name extends keyof SVGElementTagNameMap>(name: Name, kind: string): SVGElementTagNameMap[Name] {
  const element = document.createElementNS(SVG, name);
  element.setAttribute("class", kind);
  return element;
}

class PhotoMarks extends HTMLElement {
  private svg = drawn("svg", "marks-view");
  private readonly under = drawn("g", "marks-lines");
  private readonly over = drawn("g", "marks-points");
  private whole: Window = { x: 0, y: 0, width: 1, height: 1 };
  private view: Window = this.whole;
  private marks: Mark[] = [];
  private words: Words = {};
  private readonly fingers = new Map<number, { x: number; y: number }>();
  private pressed: { x: number; y: number } | null = null;
  /** The point in the hand, and how far from its middle it was taken: taking it must not move it. */
  private held: { id: string; dx: number; dy: number; to: { x: number; y: number } | null } | null = null;
  private readonly shapes = new Map<string, SVGGElement>();
  private waiting = 0;

  connectedCallback(): void {
    if (this.svg.isConnected) return;
    this.words = readJson<Words>(this, "words", {});
    const photo = new Image();
    photo.addEventListener("load", () => this.open(photo));
    photo.addEventListener("error", () => {
      const told = document.createElement("p");
      told.setAttribute("role", "alert");
      told.className = "fault";
      told.textContent = say(this.words.unreadable);
      this.append(told);
    });
    photo.src = this.getAttribute("src") ?? "";
  }

  draw(points: Mark[], lines: MarkLine[]): void {
    const gone = new Set(this.shapes.keys());
    for (const mark of points) {
      gone.delete(mark.id);
      if (!this.shapes.has(mark.id)) this.place(mark);
      this.shapes.get(mark.id)!.querySelector("text")!.textContent = mark.label;
    }
    for (const id of gone) {
      this.shapes.get(id)?.remove();
      this.shapes.delete(id);
    }
    this.under.replaceChildren(...lines.flatMap((line) => this.stroke(line)));
    this.show(points);
  }

  private open(photo: HTMLImageElement): void {
    this.whole = { x: 0, y: 0, width: photo.naturalWidth, height: photo.naturalHeight };
    const image = drawn("image", "marks-photo");
    image.setAttribute("href", photo.src);
    image.setAttribute("width", String(this.whole.width));
    image.setAttribute("height", String(this.whole.height));
    this.svg.append(image, this.under, this.over);
    this.svg.setAttribute("role", "group");
    this.svg.setAttribute("aria-label", say(this.words.photo));
    this.svg.setAttribute("tabindex", "0");
    this.append(this.svg);
    this.svg.addEventListener("wheel", (event) => this.wheel(event), { passive: false });
    this.svg.addEventListener("pointerdown", (event) => this.down(event));
    this.svg.addEventListener("pointermove", (event) => this.move(event));
    for (const end of ["pointerup", "pointercancel"] as const) this.svg.addEventListener(end, (event) => this.up(event));
    this.svg.addEventListener("keydown", (event) => this.key(event));
    new ResizeObserver(() => this.show(this.marks)).observe(this.svg);
    this.look(this.whole);
    this.dispatchEvent(new CustomEvent("picture-shown", { bubbles: true, detail: { width: this.whole.width, height: this.whole.height } }));
  }

  private stroke(line: MarkLine): SVGElement[] {
    const along = line.path.map(([x, y]) => `${x},${y}`).join(" ");
    const [halo, stroke, name] = [drawn("polyline", "marks-line marks-line--halo"), drawn("polyline", "marks-line"), drawn("text", "marks-name")];
    halo.setAttribute("points", along);
    stroke.setAttribute("points", along);
    stroke.setAttribute("stroke-dasharray", line.dash);
    if (line.strong) stroke.classList.add("marks-line--strong");
    name.textContent = line.label;
    const middle = line.path.reduce((sum, [x, y]) => ({ x: sum.x + x / line.path.length, y: sum.y + y / line.path.length }), { x: 0, y: 0 });
    name.dataset.x = String(middle.x);
    name.dataset.y = String(middle.y);
    name.setAttribute("text-anchor", "middle");
    return [halo, stroke, name];
  }

  private place(mark: Mark): void {
    const shape = drawn("g", "marks-point");
    shape.dataset.id = mark.id;
    shape.setAttribute("tabindex", "0");
    shape.setAttribute("role", "button");
    const label = drawn("text", "marks-name");
    label.setAttribute("x", "14");
    label.setAttribute("y", "-10");
    for (const [kind, radius] of [["marks-reach", "22"], ["marks-halo", "7"], ["marks-ring", "7"], ["marks-dot", "2"]] as const) {
      const circle = drawn("circle", kind);
      circle.setAttribute("r", radius);
      shape.append(circle);
    }
    shape.append(label);
    this.shapes.set(mark.id, shape);
    this.over.append(shape);
  }

  /** Picture pixels per screen pixel: marks keep their size on the screen. */
  private get grain(): number {
    const { clientWidth, clientHeight } = this.svg;
    return Math.max(this.view.width / Math.max(1, clientWidth), this.view.height / Math.max(1, clientHeight));
  }

  private look(view: Window): void {
    this.view = view;
    this.svg.setAttribute("viewBox", `${view.x} ${view.y} ${view.width} ${view.height}`);
    this.show(this.marks);
  }

  private show(marks: Mark[]): void {
    this.marks = marks;
    if (this.waiting) return;
    this.waiting = requestAnimationFrame(() => {
      this.waiting = 0;
      for (const mark of this.marks) {
        const shape = this.shapes.get(mark.id);
        shape?.setAttribute("transform", `translate(${mark.x} ${mark.y}) scale(${this.grain})`);
        const values = { name: mark.label, x: Math.round(mark.x), y: Math.round(mark.y) };
        shape?.setAttribute("aria-label", say(this.words.point, values) || mark.label);
      }
      for (const name of this.under.querySelectorAll<SVGTextElement>(".marks-name")) {
        name.setAttribute("transform", `translate(${name.dataset.x} ${name.dataset.y}) scale(${this.grain})`);
      }
    });
  }

  private picture(event: { clientX: number; clientY: number }): { x: number; y: number } {
    const matrix = this.svg.getScreenCTM();
    const point = new DOMPoint(event.clientX, event.clientY);
    return matrix ? point.matrixTransform(matrix.inverse()) : point;
  }

  private inside({ x, y }: { x: number; y: number }): { x: number; y: number } {
    return { x: clamp(x, 0, this.whole.width - 1), y: clamp(y, 0, this.whole.height - 1) };
  }

  private moved(id: string, to: { x: number; y: number }): Mark[] {
    return this.marks.map((mark) => (mark.id === id ? { ...mark, ...to } : mark));
  }

  private wheel(event: WheelEvent): void {
    event.preventDefault();
    this.look(zoomed(this.view, Math.exp(clamp(event.deltaY, -200, 200) / 500), this.picture(event), this.whole));
  }

  private down(event: PointerEvent): void {
    const shape = (event.target as Element).closest<SVGGElement>(".marks-point");
    this.svg.setPointerCapture(event.pointerId);
    this.fingers.set(event.pointerId, { x: event.clientX, y: event.clientY });
    this.pressed = this.fingers.size === 1 && !shape ? { x: event.clientX, y: event.clientY } : null;
    if (shape && this.fingers.size === 1) {
      const at = this.picture(event);
      const mark = this.marks.find((each) => each.id === shape.dataset.id);
      this.held = mark ? { id: mark.id, dx: mark.x - at.x, dy: mark.y - at.y, to: null } : null;
      shape.focus();
      event.preventDefault();
    }
  }

  private move(event: PointerEvent): void {
    const before = this.fingers.get(event.pointerId);
    if (!before) return;
    const now = { x: event.clientX, y: event.clientY };
    const others = [...this.fingers].filter(([id]) => id !== event.pointerId).map(([, finger]) => finger);
    this.fingers.set(event.pointerId, now);
    if (this.held !== null) {
      const at = this.picture(event);
      this.held.to = this.inside({ x: at.x + this.held.dx, y: at.y + this.held.dy });
      this.show(this.moved(this.held.id, this.held.to));
    } else if (others[0]) {
      const apart = (a: { x: number; y: number }): number => Math.hypot(a.x - others[0]!.x, a.y - others[0]!.y);
      const middle = { clientX: (now.x + others[0].x) / 2, clientY: (now.y + others[0].y) / 2 };
      this.look(zoomed(this.view, apart(before) / Math.max(1, apart(now)), this.picture(middle), this.whole));
    } else {
      const x = this.view.x - (now.x - before.x) * this.grain;
      const y = this.view.y - (now.y - before.y) * this.grain;
      this.look(within({ ...this.view, x, y }, this.whole));
    }
  }

  private up(event: PointerEvent): void {
    this.fingers.delete(event.pointerId);
    const { held, pressed } = this;
    this.held = this.pressed = null;
    if (event.type === "pointercancel") {
      this.tell("marks-redraw", {});
    } else if (held?.to) {
      this.tell("mark-moved", { id: held.id, ...held.to });
    } else if (pressed && Math.hypot(event.clientX - pressed.x, event.clientY - pressed.y) < 4) {
      this.tell("picture-clicked", this.inside(this.picture(event)));
    }
  }

  private key(event: KeyboardEvent): void {
    const id = (event.target as SVGElement).dataset.id;
    const step = arrowStep(event.key, event.shiftKey);
    const middle = { x: this.view.x + this.view.width / 2, y: this.view.y + this.view.height / 2 };
    const mark = this.marks.find((each) => each.id === id);
    if (event.key.toLowerCase() === "z" && (event.ctrlKey || event.metaKey)) {
      this.tell(event.shiftKey ? "marks-redo" : "marks-undo", {});
    } else if (step && mark) {
      this.tell("mark-moved", { id: mark.id, ...this.inside({ x: mark.x + step.dx, y: mark.y + step.dy }) });
    } else if ((event.key === "Delete" || event.key === "Backspace") && mark) {
      this.tell("mark-removed", { id: mark.id });
    } else if (event.key === "Enter") {
      this.tell("picture-clicked", this.inside(middle));
    } else if (step) {
      const x = this.view.x + step.dx * this.grain * 10;
      this.look(within({ ...this.view, x, y: this.view.y + step.dy * this.grain * 10 }, this.whole));
    } else if (event.key === "+" || event.key === "-") {
      this.look(zoomed(this.view, event.key === "+" ? 0.8 : 1.25, middle, this.whole));
    } else if (event.key === "0") {
      this.look(this.whole);
    } else return;
    event.preventDefault();
  }

  private tell(kind: string, detail: object): void {
    this.dispatchEvent(new CustomEvent(kind, { bubbles: true, detail }));
  }
}

customElements.define("photo-marks", PhotoMarks);
