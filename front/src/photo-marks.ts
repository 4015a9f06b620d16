/**
 * `<photo-marks src points lines words label>`: marks on a photograph, in its pixels.
 *
 * `points` is a list of `{id, label, x, y, dash?}`; `lines` a list of `{id, label, dash, points: [id, ...]}`. Drag a point, or focus
 * it and press the arrows (Shift for ten pixels). The wheel, a pinch or + and - enlarge; dragging the picture moves it; 0 shows all.
 * Ctrl-Z and Ctrl-Shift-Z undo and redo. Every settled change sends `marks-change` with `{points, canUndo, canRedo}`.
 */
import { readJson, say } from "./attributes";
import { arrowStep, clamp, within, zoomed, type Window } from "./geometry";
import { History } from "./history";

export interface Mark {
  id: string;
  label: string;
  x: number;
  y: number;
}

export interface MarkLine {
  id: string;
  label: string;
  dash: string;
  points: string[];
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
  private whole: Window = { x: 0, y: 0, width: 1, height: 1 };
  private view: Window = this.whole;
  private history = new History<Mark[]>([]);
  private marks: Mark[] = [];
  private lines: MarkLine[] = [];
  private words: Words = {};
  private readonly fingers = new Map<number, { x: number; y: number }>();
  /** The point in the hand, and how far from its middle it was taken: taking it must not move it. */
  private held: { id: string; dx: number; dy: number; moved: boolean } | null = null;
  private readonly shapes = new Map<string, SVGGElement>();
  private readonly strokes = new Map<string, { line: SVGPolylineElement; name: SVGTextElement }>();

  connectedCallback(): void {
    if (this.svg.isConnected) return;
    this.words = readJson<Words>(this, "words", {});
    this.lines = readJson<MarkLine[]>(this, "lines", []);
    this.history = new History(readJson<Mark[]>(this, "points", []));
    this.marks = this.history.state;
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

  get points(): Mark[] {
    return this.marks.map((mark) => ({ ...mark }));
  }

  set points(marks: Mark[]) {
    this.history.keep(marks);
    this.show(marks);
  }

  undo(): void {
    this.show(this.history.undo());
    this.tell();
  }

  redo(): void {
    this.show(this.history.redo());
    this.tell();
  }

  private open(photo: HTMLImageElement): void {
    this.whole = { x: 0, y: 0, width: photo.naturalWidth, height: photo.naturalHeight };
    const image = drawn("image", "marks-photo");
    image.setAttribute("href", photo.src);
    image.setAttribute("width", String(this.whole.width));
    image.setAttribute("height", String(this.whole.height));
    this.svg.append(image);
    this.svg.setAttribute("role", "group");
    this.svg.setAttribute("aria-label", say(this.words.photo));
    this.svg.setAttribute("tabindex", "0");
    for (const line of this.lines) this.draw(line);
    for (const mark of this.marks) this.place(mark);
    this.append(this.svg);
    this.svg.addEventListener("wheel", (event) => this.wheel(event), { passive: false });
    this.svg.addEventListener("pointerdown", (event) => this.down(event));
    this.svg.addEventListener("pointermove", (event) => this.move(event));
    for (const end of ["pointerup", "pointercancel"] as const) this.svg.addEventListener(end, (event) => this.up(event));
    this.svg.addEventListener("keydown", (event) => this.key(event));
    new ResizeObserver(() => this.show(this.marks)).observe(this.svg);
    this.look(this.whole);
  }

  private draw(line: MarkLine): void {
    const stroke = drawn("polyline", "marks-line");
    stroke.setAttribute("stroke-dasharray", line.dash);
    const name = drawn("text", "marks-name");
    name.textContent = line.label;
    this.strokes.set(line.id, { line: stroke, name });
    this.svg.append(stroke, name);
  }

  private place(mark: Mark): void {
    const shape = drawn("g", "marks-point");
    shape.dataset.id = mark.id;
    shape.setAttribute("tabindex", "0");
    shape.setAttribute("role", "button");
    const label = drawn("text", "marks-name");
    label.textContent = mark.label;
    label.setAttribute("x", "14");
    label.setAttribute("y", "-10");
    for (const [kind, radius] of [["marks-reach", "22"], ["marks-halo", "9"], ["marks-ring", "9"], ["marks-dot", "2"]] as const) {
      const circle = drawn("circle", kind);
      circle.setAttribute("r", radius);
      shape.append(circle);
    }
    shape.append(label);
    this.shapes.set(mark.id, shape);
    this.svg.append(shape);
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
    const at = new Map(marks.map((mark) => [mark.id, mark]));
    for (const mark of marks) {
      const shape = this.shapes.get(mark.id);
      shape?.setAttribute("transform", `translate(${mark.x} ${mark.y}) scale(${this.grain})`);
      const values = { name: mark.label, x: Math.round(mark.x), y: Math.round(mark.y) };
      shape?.setAttribute("aria-label", say(this.words.point, values) || mark.label);
    }
    for (const line of this.lines) {
      const along = line.points.flatMap((id) => at.get(id) ?? []);
      const { line: stroke, name } = this.strokes.get(line.id) ?? {};
      stroke?.setAttribute("points", along.map((mark) => `${mark.x},${mark.y}`).join(" "));
      const last = along.at(-1);
      if (last) name?.setAttribute("transform", `translate(${last.x} ${last.y}) scale(${this.grain}) translate(14 18)`);
    }
  }

  private picture(event: { clientX: number; clientY: number }): { x: number; y: number } {
    const matrix = this.svg.getScreenCTM();
    const point = new DOMPoint(event.clientX, event.clientY);
    return matrix ? point.matrixTransform(matrix.inverse()) : point;
  }

  private moved(id: string, to: { x: number; y: number }): Mark[] {
    const x = clamp(to.x, 0, this.whole.width);
    const y = clamp(to.y, 0, this.whole.height);
    return this.marks.map((mark) => (mark.id === id ? { ...mark, x, y } : mark));
  }

  private wheel(event: WheelEvent): void {
    event.preventDefault();
    this.look(zoomed(this.view, Math.exp(clamp(event.deltaY, -200, 200) / 500), this.picture(event), this.whole));
  }

  private down(event: PointerEvent): void {
    const shape = (event.target as Element).closest<SVGGElement>(".marks-point");
    this.svg.setPointerCapture(event.pointerId);
    this.fingers.set(event.pointerId, { x: event.clientX, y: event.clientY });
    if (shape && this.fingers.size === 1) {
      const at = this.picture(event);
      const mark = this.marks.find((each) => each.id === shape.dataset.id);
      this.held = mark ? { id: mark.id, dx: mark.x - at.x, dy: mark.y - at.y, moved: false } : null;
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
      this.held.moved = true;
      this.show(this.moved(this.held.id, { x: at.x + this.held.dx, y: at.y + this.held.dy }));
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
    const held = this.held;
    this.held = null;
    if (!held?.moved) return;
    if (event.type === "pointercancel") this.show(this.history.state);
    else this.settle(this.marks);
  }

  private key(event: KeyboardEvent): void {
    const id = (event.target as SVGElement).dataset.id;
    const step = arrowStep(event.key, event.shiftKey);
    const middle = { x: this.view.x + this.view.width / 2, y: this.view.y + this.view.height / 2 };
    if (event.key.toLowerCase() === "z" && (event.ctrlKey || event.metaKey)) {
      if (event.shiftKey) this.redo();
      else this.undo();
    } else if (step && id) {
      const mark = this.marks.find((each) => each.id === id);
      if (mark) this.settle(this.moved(id, { x: mark.x + step.dx, y: mark.y + step.dy }));
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

  private settle(marks: Mark[]): void {
    this.history.keep(marks);
    this.show(marks);
    this.tell();
  }

  private tell(): void {
    const { canUndo, canRedo } = this.history;
    this.dispatchEvent(new CustomEvent("marks-change", { bubbles: true, detail: { points: this.points, canUndo, canRedo } }));
  }
}

customElements.define("photo-marks", PhotoMarks);
