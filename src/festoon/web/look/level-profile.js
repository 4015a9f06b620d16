// <level-profile case version>: the level profile with handles for edges, lengths, zeniths and contacts. The drawing itself comes from
// festoon; while a handle is moved the plan is solved anew, the latest wish winning, and what it reaches is drawn.
import { ask, english, tell, words } from "/look/api.js";

/** @typedef {import("./api-types").Handle} Handle */
/** @typedef {import("./api-types").Drafted} Drafted */
/** @typedef {Record<string, number>} Changes by key path of the case */
/** @typedef {{ x: number, width: number, scale: number, apical: number, mesial: number, y: (level: number) => number, svg: SVGSVGElement }} Place */

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
  version = Number(this.getAttribute("version"));
  /** @type {Handle[]} */
  handles = [];
  /** The handle that is being dragged, and what it says. @type {{ path: string, value: number } | null} */
  held = null;
  /** The handle that is being moved by keys, and what it says. @type {{ path: string, value: number } | null} */
  stepping = null;
  /** @type {Changes | null} */
  wish = null;
  isSolving = false;
  resting = 0;

  connectedCallback() {
    this.draw(JSON.parse(this.find("script.handles").textContent ?? "[]"));
    addEventListener("case-kept", (event) => {
      if (event.target === this) return;
      this.version = /** @type {CustomEvent<number>} */ (event).detail;
      this.solve({});
    });
    // A finger on a handle moves the handle, not the page: said here, since the handle itself is drawn anew under the finger.
    this.room.addEventListener("touchstart", (event) => { if (/** @type {Element} */ (event.target).closest(".handle")) event.preventDefault(); }, { passive: false });
    const hint = this.find(".in-hand").textContent ?? "";
    this.addEventListener("focusout", () => { if (!this.held) this.find(".in-hand").textContent = hint; });
    this.addEventListener("focusin", () => this.say());
  }

  /** @param {string} selector */
  find(selector) { return /** @type {HTMLElement} */ (this.querySelector(selector)); }

  get room() { return this.find(".profile"); }

  get case() { return encodeURIComponent(this.getAttribute("case") ?? ""); }

  /** Where a level of a tooth lies on the drawing. @param {string} tooth @returns {Place | null} */
  place(tooth) {
    const head = /** @type {SVGElement | null} */ (this.room.querySelector(`[data-tooth="${tooth}"]`));
    const jaw = /** @type {SVGElement | null | undefined} */ (head?.closest("[data-jaw]"));
    const svg = jaw?.ownerSVGElement;
    if (!head || !jaw || !svg) return null;
    const apical = jaw.dataset.jaw === "upper" ? -1 : 1;
    const [scale, width] = [Number(jaw.dataset.scale), Number(head.dataset.width)];
    return {
      x: Number(head.dataset.x) + width / 2, width, scale, apical, svg,
      mesial: "14".includes(tooth[0]) ? 1 : -1, // on the drawing, seen facing the patient
      y: (level) => Number(jaw.dataset.datum) + apical * level * scale,
    };
  }

  /** @param {Handle[]} handles */
  draw(handles) {
    this.handles = handles;
    const focused = this.focused;
    this.room.querySelector("g.handles")?.remove();
    const layer = shape("g", { class: "handles", lang: document.documentElement.lang });
    let svg = null;
    for (const handle of handles) {
      const place = this.place(handle.tooth);
      if (!place) continue;
      svg = place.svg;
      layer.append(this.handleOf(handle, place));
    }
    svg?.append(layer);
    svg?.removeAttribute("role");
    this.focus_(focused);
  }

  /** The name of the handle that has the keyboard. */
  get focused() {
    const { activeElement } = document;
    return activeElement instanceof SVGElement ? activeElement.dataset.handle : undefined;
  }

  /** @param {string | undefined} name */
  focus_(name) { if (name) /** @type {SVGElement | null} */ (this.room.querySelector(`[data-handle="${name}"]`))?.focus({ preventScroll: true }); }

  /** @param {Handle} handle @param {Place} place */
  handleOf(handle, place) {
    const value = this.valueOf_(handle);
    const group = shape("g", {
      class: `handle handle--${handle.kind}`, "data-handle": `${handle.kind}-${handle.tooth}`,
      tabindex: 0, role: "slider", "aria-orientation": handle.across ? "horizontal" : "vertical", "aria-label": `${handle.name} ${words[handle.kind]}`,
      "aria-valuemin": handle.low, "aria-valuemax": handle.high, "aria-valuenow": value.toFixed(1), "aria-valuetext": reached(handle, value),
      transform: this.spot(handle, place, value),
    });
    const label = shape("text", { x: 0, y: -2.6, "text-anchor": "middle" });
    label.textContent = value.toFixed(1);
    group.append(shape("circle", { class: "ring", r: 4.2 }), shape("path", { class: "grip", d: GRIPS[handle.kind] }), label);
    group.addEventListener("pointerdown", (event) => this.grab(event, handle, place, group));
    group.addEventListener("keydown", (event) => this.key(event, handle));
    return group;
  }

  /** What a handle says now: in the hand what was asked last, else what the case says. @param {Handle} handle */
  valueOf_(handle) {
    const moving = this.held ?? this.stepping;
    return moving?.path === handle.path ? moving.value : handle.value;
  }

  /** Where a handle stands while its entry says `value`: each kind has a place of its own, so that no two lie on each other. @param {Handle} handle @param {Place} place @param {number} value */
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

  /** Say above the drawing what is in the hand, what the plan reaches of it, and what holds it there. */
  say() {
    const handle = this.handles.find((one) => `${one.kind}-${one.tooth}` === this.focused);
    if (!handle) return;
    const name = document.createElement("strong");
    name.textContent = handle.name;
    const place = this.find(".in-hand");
    place.style.minHeight ||= `${place.offsetHeight}px`; // the drawing does not move under the hand
    place.replaceChildren(name, ` ${reached(handle, this.valueOf_(handle))}${handle.why && ": "}`, english(handle.why));
  }

  /** Moving changes a target by as much as the pointer goes, from where the entry stood when it was taken. @param {PointerEvent} event @param {Handle} handle @param {Place} place @param {SVGElement} group */
  grab(event, handle, place, group) {
    event.preventDefault();
    const from = { x: event.clientX, y: event.clientY, value: handle.value };
    const matrix = place.svg.getScreenCTM();
    if (!matrix) return;
    const held = { path: handle.path, value: handle.value };
    this.held = held;
    group.focus({ preventScroll: true });
    const move = (/** @type {PointerEvent} */ moved) => {
      const apical = ((moved.clientY - from.y) / matrix.d) * place.apical;
      const distal = ((moved.clientX - from.x) / matrix.a) * -place.mesial;
      const value = bounded(handle, from.value + handle.sign * (handle.across ? distal : apical) / place.scale);
      const shown = this.room.querySelector(`[data-handle="${group.dataset.handle}"]`) ?? group;
      shown.setAttribute("transform", this.spot(handle, place, value));
      const label = shown.querySelector("text");
      if (label) label.textContent = value.toFixed(1);
      if (value !== held.value) { held.value = value; this.solve(this.changes(handle, value)); }
    };
    const drop = () => {
      removeEventListener("pointermove", move);
      removeEventListener("pointerup", drop);
      removeEventListener("pointercancel", drop);
      this.held = null;
      if (held.value !== from.value) this.keep(this.changes(handle, held.value)); else this.solve({});
    };
    addEventListener("pointermove", move);
    addEventListener("pointerup", drop);
    addEventListener("pointercancel", drop);
  }

  /** @param {KeyboardEvent} event @param {Handle} handle */
  key(event, handle) {
    /** @type {Record<string, number>} */
    const ways = handle.across ? { ArrowLeft: -1, ArrowRight: 1 } : { ArrowUp: -1, ArrowDown: 1, PageUp: -10, PageDown: 10 };
    const [way, place] = [ways[event.key], this.place(handle.tooth)];
    if (!way || !place) return;
    event.preventDefault();
    const moved = way * (handle.across ? -place.mesial : place.apical) * STEP * (event.shiftKey ? 10 : 1);
    // Keys come faster than plans: each goes on from the last wish, not from what was drawn last.
    const value = bounded(handle, this.valueOf_(handle) + handle.sign * moved);
    this.stepping = { path: handle.path, value };
    const changes = this.changes(handle, value);
    this.solve(changes);
    clearTimeout(this.resting);
    this.resting = setTimeout(() => { this.stepping = null; this.keep(changes); }, 600);
  }

  /** @param {Handle} handle @param {number} value @returns {Changes} */
  changes(handle, value) {
    const tick = /** @type {HTMLInputElement | null} */ (this.querySelector("#both-sides"));
    const both = handle.twin && tick?.checked;
    return both ? { [handle.path]: value, [handle.twin_path]: Number((value + (handle.twin_shift ?? 0)).toFixed(2)) } : { [handle.path]: value };
  }

  /** Solve the latest wish; wishes that were overtaken are not asked. @param {Changes} changes */
  async solve(changes) {
    this.wish = changes;
    if (this.isSolving) return;
    this.isSolving = true;
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
    this.isSolving = false;
  }

  /** @param {Drafted} drafted */
  show(drafted) {
    const focused = this.focused;
    const fresh = new DOMParser().parseFromString(drafted.svg, "image/svg+xml").documentElement;
    this.room.replaceChildren(document.importNode(fresh, true));
    this.draw(drafted.handles);
    this.focus_(focused);
    this.say();
    this.find(".design-numbers").innerHTML = drafted.said;
    this.find(".said").textContent = drafted.spoken;
  }

  /** @param {Changes} changes */
  async keep(changes) {
    try {
      /** @type {import("./api-types").Kept} */
      const kept = await ask("PATCH", `/api/cases/${this.case}`, { base: this.version, changes, why: "moved on the level profile" });
      this.version = kept.version;
      for (const [path, value] of Object.entries(changes)) {
        const field = /** @type {HTMLInputElement | null} */ (document.querySelector(`[data-path="${path}"]`));
        if (field) { field.value = String(value); field.dataset.was = field.value; }
      }
      this.dispatchEvent(new CustomEvent("case-kept", { bubbles: true, detail: kept.version }));
      this.solve({});
    } catch (error) {
      tell(error);
      this.solve({});
    }
  }
}

/** A handle in words: what is wished, and what the plan reaches of it. @param {Handle} handle @param {number} value */
function reached(handle, value) {
  const reached = handle.reached === null ? "" : `, ${words.reached} ${handle.reached.toFixed(1)}`;
  return `${words[handle.kind]} ${value.toFixed(1)} mm${reached}`;
}

/** @param {string} tag @param {Record<string, string | number>} attributes */
function shape(tag, attributes) {
  const made = /** @type {SVGElement} */ (document.createElementNS(SVG, tag));
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, String(value));
  return made;
}

/** @param {Handle} handle @param {number} value */
function bounded(handle, value) {
  return Math.round(Math.min(handle.high, Math.max(handle.low, value)) / STEP) / Math.round(1 / STEP);
}

customElements.define("level-profile", LevelProfile);
