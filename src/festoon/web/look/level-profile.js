// <level-profile case version>: the level profile with handles for edges, lengths, zeniths and contacts. The drawing itself comes from
// festoon; while a handle is moved the plan is solved anew, the latest wish winning, and what it reaches is drawn.
import { ask, tell, words } from "/look/api.js";

const SVG = "http://www.w3.org/2000/svg";
const STEP = 0.1;
/** A zenith's handle stands this far under its margin, in mm, on the wedge that the drawing has there. */
const WEDGE_BELOW = 1.6;
/** A form for each kind, so that they are told apart without colour. */
const GRIPS = {
  edge: "M-1.6 -1.1 H1.6 V1.1 H-1.6 Z",
  length: "M0 -1.9 L1.9 0 L0 1.9 L-1.9 0 Z",
  zenith: "M0 -1.9 L1.7 1.2 L-1.7 1.2 Z",
  contact: "M-1.2 -1.6 H1.2 L0 1.6 Z",
};

class LevelProfile extends HTMLElement {
  connectedCallback() {
    this.version = Number(this.getAttribute("version"));
    this.room = this.querySelector(".profile");
    this.draw(JSON.parse(this.querySelector("script.handles").textContent));
    addEventListener("case-kept", (event) => { if (event.target !== this) { this.version = event.detail; this.solve({}); } });
  }

  get case() { return encodeURIComponent(this.getAttribute("case")); }

  /** Where a level of a tooth lies on the drawing. */
  place(tooth) {
    const head = this.room.querySelector(`[data-tooth="${tooth}"]`);
    const jaw = head?.closest("[data-jaw]");
    if (!jaw) return null;
    const apical = jaw.dataset.jaw === "upper" ? -1 : 1;
    const scale = Number(jaw.dataset.scale);
    return {
      x: Number(head.dataset.x) + Number(head.dataset.width) / 2, width: Number(head.dataset.width), scale, apical,
      mesial: "14".includes(tooth[0]) ? 1 : -1, // on the drawing, seen facing the patient
      y: (level) => Number(jaw.dataset.datum) + apical * level * scale, svg: jaw.ownerSVGElement,
    };
  }

  draw(handles) {
    this.handles = handles;
    const focused = document.activeElement?.dataset?.handle;
    this.room.querySelector("g.handles")?.remove();
    const layer = document.createElementNS(SVG, "g");
    layer.setAttribute("class", "handles");
    let svg = null;
    for (const handle of handles) {
      const place = this.place(handle.tooth);
      if (!place) continue;
      svg = place.svg;
      layer.append(this.handleOf(handle, place));
    }
    svg?.append(layer);
    svg?.removeAttribute("role");
    if (focused) layer.querySelector(`[data-handle="${focused}"]`)?.focus();
  }

  handleOf(handle, place) {
    const group = document.createElementNS(SVG, "g");
    const name = `${handle.kind}-${handle.tooth}`;
    group.setAttribute("class", `handle handle--${handle.kind}`);
    group.dataset.handle = name;
    const said = {
      tabindex: 0, role: "slider", "aria-orientation": handle.across ? "horizontal" : "vertical", "aria-label": `${handle.tooth} ${words[handle.kind]}`,
      "aria-valuemin": handle.low, "aria-valuemax": handle.high, "aria-valuenow": handle.value.toFixed(1), "aria-valuetext": this.text(handle),
      transform: this.spot(handle, place, handle.value),
    };
    for (const [key, value] of Object.entries(said)) group.setAttribute(key, value);
    const ring = shape("circle", { class: "ring", r: 4.2 });
    const grip = shape("path", { class: "grip", d: GRIPS[handle.kind] });
    const title = document.createElementNS(SVG, "title");
    title.textContent = `${this.text(handle)} ${handle.why}`;
    const label = shape("text", { x: 2.6, y: 0.8 });
    group.append(ring, grip, title, label);
    group.addEventListener("pointerdown", (event) => this.grab(event, handle, place, group, label));
    group.addEventListener("keydown", (event) => this.key(event, handle, place));
    return group;
  }

  /** Where a handle stands while its entry says `value`: each kind has a place of its own, so that no two lie on each other. */
  spot(handle, place, value) {
    const moved = handle.sign * (value - handle.value);
    let x = place.x;
    let level = handle.level + (handle.across ? 0 : moved);
    if (handle.kind === "edge") x -= place.mesial * place.width * 0.28;
    if (handle.kind === "length") x += place.mesial * place.width * 0.28;
    if (handle.kind === "contact") x += place.width / 2;
    if (handle.across) { x -= place.mesial * value * place.scale; level -= WEDGE_BELOW; }
    return `translate(${x} ${place.y(level)})`;
  }

  text(handle) {
    const reached = handle.reached === null ? "" : `, ${words.reached} ${handle.reached.toFixed(1)}`;
    return `${words[handle.kind]} ${handle.value.toFixed(1)} mm${reached}`;
  }

  /** Moving changes a target by as much as the pointer goes, from where the entry stood when it was taken. */
  grab(event, handle, place, group, label) {
    event.preventDefault();
    group.focus();
    const from = { x: event.clientX, y: event.clientY, value: handle.value };
    const matrix = place.svg.getScreenCTM();
    this.held = { handle, value: handle.value };
    const move = (moved) => {
      const apical = ((moved.clientY - from.y) / matrix.d) * place.apical;
      const distal = ((moved.clientX - from.x) / matrix.a) * -place.mesial;
      const value = bounded(handle, from.value + handle.sign * (handle.across ? distal : apical) / place.scale);
      const held = this.room.querySelector(`[data-handle="${group.dataset.handle}"]`) ?? group;
      held.setAttribute("transform", this.spot(handle, place, value));
      (held.querySelector("text") ?? label).textContent = value.toFixed(1);
      if (value !== this.held.value) { this.held.value = value; this.solve(this.changes(handle, value)); }
    };
    const drop = () => {
      removeEventListener("pointermove", move);
      removeEventListener("pointerup", drop);
      removeEventListener("pointercancel", drop);
      const { value } = this.held;
      this.held = null;
      if (value !== from.value) this.keep(this.changes(handle, value)); else this.solve({});
    };
    addEventListener("pointermove", move);
    addEventListener("pointerup", drop);
    addEventListener("pointercancel", drop);
  }

  key(event, handle) {
    const way = (handle.across ? { ArrowLeft: -1, ArrowRight: 1 } : { ArrowUp: -1, ArrowDown: 1 })[event.key];
    if (!way) return;
    event.preventDefault();
    const place = this.place(handle.tooth);
    const moved = way * (handle.across ? -place.mesial : place.apical) * STEP * (event.shiftKey ? 10 : 1);
    // Keys come faster than plans: each goes on from the last wish, not from what was drawn last.
    const from = this.stepping?.path === handle.path ? this.stepping.value : handle.value;
    const value = bounded(handle, from + handle.sign * moved);
    this.stepping = { path: handle.path, value };
    const changes = this.changes(handle, value);
    this.solve(changes);
    clearTimeout(this.resting);
    this.resting = setTimeout(() => { this.stepping = null; this.keep(changes); }, 600);
  }

  changes(handle, value) {
    const both = handle.twin && this.querySelector("#both-sides")?.checked;
    return both ? { [handle.path]: value, [handle.twin_path]: Number((value + handle.twin_shift).toFixed(2)) } : { [handle.path]: value };
  }

  /** Solve the latest wish; wishes that were overtaken are not asked. */
  async solve(changes) {
    this.wish = changes;
    if (this.solving) return;
    this.solving = true;
    while (this.wish) {
      const wish = this.wish;
      this.wish = null;
      try {
        this.show(await ask("POST", `/api/cases/${this.case}/draft`, { changes: wish }));
        tell(null);
      } catch (error) {
        tell(error);
      }
    }
    this.solving = false;
  }

  show(drafted) {
    const focused = document.activeElement?.dataset?.handle;
    const fresh = new DOMParser().parseFromString(drafted.svg, "image/svg+xml").documentElement;
    this.room.replaceChildren(document.importNode(fresh, true));
    this.draw(drafted.handles);
    if (focused) this.room.querySelector(`[data-handle="${focused}"]`)?.focus();
    this.querySelector(".design-numbers").innerHTML = drafted.said;
    this.querySelector(".said").textContent = drafted.spoken;
  }

  async keep(changes) {
    try {
      const kept = await ask("PATCH", `/api/cases/${this.case}`, { base: this.version, changes, why: "moved on the level profile" });
      this.version = kept.version;
      document.querySelector("chart-entry").version = kept.version;
      for (const [path, value] of Object.entries(changes)) {
        const field = document.querySelector(`[data-path="${path}"]`);
        if (field) { field.value = value; field.dataset.was = field.value; }
      }
      for (const button of this.querySelectorAll('form[data-api$="/undo"] button')) button.disabled = false;
      this.solve({});
    } catch (error) {
      tell(error);
    }
  }
}

function shape(tag, attributes) {
  const made = document.createElementNS(SVG, tag);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  return made;
}

function bounded(handle, value) {
  return Math.round(Math.min(handle.high, Math.max(handle.low, value)) / STEP) / Math.round(1 / STEP);
}

customElements.define("level-profile", LevelProfile);
