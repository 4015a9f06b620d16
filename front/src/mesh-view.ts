/**
 * `<mesh-view src label words unit-mm frame jaw>`: a surface scan to look at and to pick points on; `draw(curves, points)` puts
 * curves and set points on it.
 *
 * `src` is a PLY or STL file of this app and `unit-mm` the millimetres of its unit; every point here is in mm in the file's pose.
 * `frame` is 16 numbers (row by row) from there to the arch frame (x to the patient's left, y posterior, z superior). Without it
 * the sides are unknown, and that is said instead of guessed.
 * Drag turns, wheel or pinch enlarges; arrows turn (Shift: ten steps), + and - enlarge, Enter picks at the middle. A click on the
 * surface sends `surface-pick` with `{xyz, ray_ms}`; a picked point can be dragged along the surface.
 */
import {
  AmbientLight, Box3, BufferAttribute, BufferGeometry, DirectionalLight, Group, Matrix4, Mesh, MeshStandardMaterial,
  OrthographicCamera, Points, PointsMaterial, Raycaster, Scene, Vector2, Vector3, WebGLRenderer,
} from "three";
import { Line2 } from "three/addons/lines/Line2.js";
import { LineGeometry } from "three/addons/lines/LineGeometry.js";
import { LineMaterial } from "three/addons/lines/LineMaterial.js";
import { OrbitControls } from "three/addons/controls/OrbitControls.js";
import { PLYLoader } from "three/addons/loaders/PLYLoader.js";
import { STLLoader } from "three/addons/loaders/STLLoader.js";
import { acceleratedRaycast, computeBoundsTree } from "three-mesh-bvh";
import { readJson, say } from "./attributes";
import { arrowStep } from "./geometry";
import { VIEWS, isView, type ViewName } from "./views";

/** How much of the surface round the curves is looked at first, mm: a crown's length. */
const ROUND_CURVES = 10;
/** Names of curves stand this far from them towards the crowns, px. */
const NAME_ASIDE = 26;

type Xyz = [number, number, number];

interface Words extends Partial<Record<ViewName, string>> {
  right_side?: string;
  left_side?: string;
  sides_unknown?: string;
  loading?: string;
  unreadable?: string;
  no_webgl?: string;
  /** With {x}, {y}, {z}. */
  picked?: string;
}

function shape(data: ArrayBuffer): BufferGeometry {
  const start = new TextDecoder("latin1").decode(data.slice(0, 3));
  const geometry = start === "ply" ? new PLYLoader().parse(data) : new STLLoader().parse(data);
  const count = geometry.getAttribute("position")?.count ?? 0;
  if (count === 0) throw new Error("no surface");
  if (!geometry.getAttribute("normal")) geometry.computeVertexNormals();
  return geometry;
}

class MeshView extends HTMLElement {
  private words: Words = {};
  private readonly room = document.createElement("div");
  private readonly canvas = document.createElement("canvas");
  private readonly says = document.createElement("p");
  private readonly scene = new Scene();
  private readonly camera = new OrthographicCamera(-1, 1, 1, -1, -1000, 1000);
  private readonly ray = new Raycaster();
  private readonly picked = new Points(new BufferGeometry(), new PointsMaterial({ size: 12, sizeAttenuation: false, depthTest: false }));
  private readonly set = new Points(new BufferGeometry(), new PointsMaterial({ size: 11, sizeAttenuation: false, depthTest: false }));
  private readonly curves = new Group();
  private sides: { label: HTMLElement; at: Vector3; ofCurve: boolean }[] = [];
  private renderer: WebGLRenderer | null = null;
  private controls: OrbitControls | null = null;
  private mesh: Mesh<BufferGeometry, MeshStandardMaterial> | null = null;
  private toArch = new Matrix4();
  private reach = 1;
  private box = new Box3();
  private aimed = false;
  private waiting = 0;
  private pressed: { x: number; y: number } | null = null;
  private dragging = false;
  private watch: ResizeObserver | null = null;

  connectedCallback(): void {
    if (this.room.isConnected) return;
    this.words = readJson<Words>(this, "words", {});
    this.room.className = "mesh-room";
    this.says.className = "mesh-says";
    this.says.setAttribute("role", "status");
    this.canvas.className = "mesh-canvas";
    this.canvas.tabIndex = 0;
    this.canvas.setAttribute("role", "application");
    this.canvas.setAttribute("aria-label", this.getAttribute("label") ?? "");
    this.room.append(this.canvas);
    this.append(this.room, this.says);
    void this.open();
  }

  disconnectedCallback(): void {
    this.watch?.disconnect();
    this.controls?.dispose();
    this.renderer?.dispose();
    this.mesh?.geometry.dispose();
  }

  private async open(): Promise<void> {
    try {
      this.renderer = new WebGLRenderer({ canvas: this.canvas, antialias: true, alpha: true });
    } catch {
      this.room.remove();
      this.says.textContent = say(this.words.no_webgl);
      return;
    }
    this.says.textContent = say(this.words.loading);
    this.setAttribute("aria-busy", "true");
    try {
      const source = new URL(this.getAttribute("src") ?? "", location.href);
      if (source.origin !== location.origin) throw new Error("another origin");
      const answer = await fetch(source);
      if (!answer.ok) throw new Error(String(answer.status));
      this.start(shape(await answer.arrayBuffer()));
      this.says.textContent = this.hasAttribute("frame") ? "" : say(this.words.sides_unknown);
    } catch {
      this.room.remove();
      this.says.textContent = say(this.words.unreadable);
    } finally {
      this.removeAttribute("aria-busy");
    }
  }

  private start(geometry: BufferGeometry): void {
    const unit = Number(this.getAttribute("unit-mm") ?? 1);
    geometry.scale(unit, unit, unit);
    const frame = readJson<number[] | null>(this, "frame", null);
    if (frame?.length === 16) this.toArch.fromArray(frame).transpose();
    const colours = geometry.hasAttribute("color");
    // Pushed back a little, so that curves which lie on the surface are seen, and those behind it are not.
    const behind = { polygonOffset: true, polygonOffsetFactor: 2, polygonOffsetUnits: 4 };
    const material = new MeshStandardMaterial({ vertexColors: colours, color: colours ? 0xffffff : 0xd9d2c2, roughness: 0.75, ...behind });
    this.mesh = new Mesh(geometry, material);
    this.mesh.raycast = acceleratedRaycast;
    geometry.boundsTree = computeBoundsTree.call(geometry);
    this.mesh.applyMatrix4(this.toArch);
    this.scene.add(this.mesh, new AmbientLight(0xffffff, 1.2), this.camera, this.picked, this.set, this.curves);
    const lamp = new DirectionalLight(0xffffff, 2);
    lamp.position.set(0.4, 0.6, 1);
    this.camera.add(lamp);
    this.picked.material.color.set(getComputedStyle(this).getPropertyValue("--margin").trim() || "#a11d4a");
    this.set.material.color.set(getComputedStyle(this).getPropertyValue("--ink").trim() || "#1b242b");
    for (const points of [this.picked, this.set]) {
      points.frustumCulled = false;
      points.renderOrder = 2;
      points.visible = false;
    }

    geometry.computeBoundingBox();
    const box = geometry.boundingBox!.clone().applyMatrix4(this.toArch);
    this.box = box;
    const centre = box.getCenter(new Vector3());
    this.reach = box.getSize(new Vector3()).length() / 2;
    if (frame) {
      this.side(this.words.right_side, new Vector3(box.min.x, centre.y, centre.z));
      this.side(this.words.left_side, new Vector3(box.max.x, centre.y, centre.z));
    }
    this.controls = new OrbitControls(this.camera, this.canvas);
    this.controls.target.copy(centre);
    this.controls.addEventListener("change", () => this.paint());
    this.canvas.addEventListener("pointerdown", (event) => this.down(event), { capture: true });
    this.canvas.addEventListener("pointermove", (event) => this.move(event), { capture: true });
    this.canvas.addEventListener("pointerup", (event) => this.up(event), { capture: true });
    this.canvas.addEventListener("pointercancel", () => this.release(), { capture: true });
    this.canvas.addEventListener("keydown", (event) => this.key(event));
    this.watch = new ResizeObserver(() => this.fit());
    this.watch.observe(this.room);
    if (frame) this.buttons();
    this.fit();
    this.look("front");
    this.dispatchEvent(new CustomEvent("mesh-shown"));
  }

  private side(word: string | undefined, at: Vector3): void {
    const label = document.createElement("span");
    label.className = "mesh-side";
    label.textContent = say(word);
    this.room.append(label);
    this.sides.push({ label, at, ofCurve: false });
  }

  /** Curves by name, and points that a person set: in place of those drawn before. */
  draw(curves: Record<string, Xyz[]>, points: Xyz[]): void {
    const ink = getComputedStyle(this).getPropertyValue("--margin").trim() || "#a11d4a";
    for (const curve of this.curves.children.splice(0) as Line2[]) curve.geometry.dispose();
    for (const { label, ofCurve } of this.sides) if (ofCurve) label.remove();
    this.sides = this.sides.filter(({ ofCurve }) => !ofCurve);
    for (const [name, along] of Object.entries(curves)) {
      const places = along.map((xyz) => new Vector3(...xyz).applyMatrix4(this.toArch));
      if (places.length < 2) continue;
      const geometry = new LineGeometry().setPositions(places.flatMap((place) => place.toArray()));
      this.curves.add(new Line2(geometry, new LineMaterial({ color: ink, linewidth: 3 })));
      this.side(name, places[Math.floor(places.length / 2)]!);
      this.sides.at(-1)!.ofCurve = true;
      this.sides.at(-1)!.label.classList.add("mesh-tooth");
    }
    // What is looked at is where the curves are: loose crumbs of the scan would make it small.
    const seen = new Box3();
    for (const xyz of Object.values(curves).flat()) seen.expandByPoint(new Vector3(...xyz).applyMatrix4(this.toArch));
    if (!seen.isEmpty() && !this.aimed) {
      this.aimed = true;
      this.box = seen.expandByScalar(ROUND_CURVES).intersect(this.box);
      this.controls?.target.copy(this.box.getCenter(new Vector3()));
      this.look("front");
    }
    const places = points.flatMap((xyz) => new Vector3(...xyz).applyMatrix4(this.toArch).toArray());
    this.set.geometry.setAttribute("position", new BufferAttribute(new Float32Array(places), 3));
    this.set.visible = points.length > 0;
    this.picked.visible = false;
    this.paint();
  }

  private buttons(): void {
    const row = document.createElement("div");
    row.className = "mesh-views";
    for (const name of Object.keys(VIEWS)) {
      if (!isView(name)) continue;
      const button = document.createElement("button");
      button.type = "button";
      button.className = "act mesh-look";
      button.textContent = say(this.words[name]);
      button.addEventListener("click", () => this.look(name));
      row.append(button);
    }
    this.prepend(row);
  }

  /** Look along a named view; the arch frame is the same in both jaws, only occlusal and apical change places. */
  look(name: ViewName): void {
    if (!this.controls) return;
    const { from, up } = VIEWS[name](this.getAttribute("jaw") === "lower" ? "lower" : "upper");
    this.camera.up.set(...up);
    this.camera.position.set(...from).multiplyScalar(this.reach * 2).add(this.controls.target);
    this.camera.zoom = this.filling();
    this.camera.updateProjectionMatrix();
    // OrbitControls turns about the up axis it was made with.
    const target = this.controls.target.clone();
    this.controls.dispose();
    this.controls = new OrbitControls(this.camera, this.canvas);
    this.controls.target.copy(target);
    this.controls.addEventListener("change", () => this.paint());
    this.controls.update();
    this.paint();
  }

  /** How far to enlarge so that the surface fills the room as it is seen now. */
  private filling(): number {
    this.camera.lookAt(this.controls?.target ?? this.box.getCenter(new Vector3()));
    this.camera.updateMatrixWorld();
    let [wide, tall] = [0, 0];
    for (const corner of [0, 1, 2, 3, 4, 5, 6, 7]) {
      const at = new Vector3(...(["x", "y", "z"] as const).map((axis, bit) => (corner & (1 << bit) ? this.box.max : this.box.min)[axis]));
      at.applyMatrix4(this.camera.matrixWorldInverse);
      [wide, tall] = [Math.max(wide, Math.abs(at.x)), Math.max(tall, Math.abs(at.y))];
    }
    return 0.92 * Math.min(this.camera.right / wide, this.camera.top / tall);
  }

  private fit(): void {
    const { clientWidth: width, clientHeight: height } = this.room;
    if (width === 0 || height === 0) return;
    const tall = this.reach * Math.max(1, height / width);
    Object.assign(this.camera, { left: (-tall * width) / height, right: (tall * width) / height, top: tall, bottom: -tall });
    this.camera.near = -this.reach * 10;
    this.camera.far = this.reach * 10;
    this.camera.updateProjectionMatrix();
    this.renderer?.setPixelRatio(Math.min(2, devicePixelRatio));
    this.renderer?.setSize(width, height, false);
    this.paint();
  }

  private paint(): void {
    if (this.waiting) return;
    this.waiting = requestAnimationFrame(() => {
      this.waiting = 0;
      this.renderer?.render(this.scene, this.camera);
      const aside = this.getAttribute("jaw") === "lower" ? -NAME_ASIDE : NAME_ASIDE;
      for (const { label, at, ofCurve } of this.sides) {
        const { x, y } = this.onScreen(at);
        const left = Math.min(Math.max(0, x - label.offsetWidth / 2), this.room.clientWidth - label.offsetWidth);
        label.style.transform = `translate(${left}px, ${Math.min(Math.max(0, y + (ofCurve ? aside : 0)), this.room.clientHeight - label.offsetHeight)}px)`;
      }
    });
  }

  private onScreen(at: Vector3): { x: number; y: number } {
    const seen = at.clone().project(this.camera);
    return { x: ((seen.x + 1) / 2) * this.room.clientWidth, y: ((1 - seen.y) / 2) * this.room.clientHeight };
  }

  private spot(event: PointerEvent): { x: number; y: number } {
    const box = this.canvas.getBoundingClientRect();
    return { x: event.clientX - box.left, y: event.clientY - box.top };
  }

  private down(event: PointerEvent): void {
    this.pressed = this.spot(event);
    if (!this.picked.visible || !this.controls) return;
    const at = this.onScreen(new Vector3().fromBufferAttribute(this.picked.geometry.getAttribute("position"), 0));
    if (Math.hypot(at.x - this.pressed.x, at.y - this.pressed.y) > 22) return;
    this.dragging = true;
    this.controls.enabled = false;
    this.canvas.setPointerCapture(event.pointerId);
  }

  private move(event: PointerEvent): void {
    if (this.dragging) this.pick(this.spot(event), false);
  }

  private up(event: PointerEvent): void {
    const at = this.spot(event);
    const still = this.pressed !== null && Math.hypot(at.x - this.pressed.x, at.y - this.pressed.y) < 4;
    if (this.dragging || still) this.pick(at, true);
    this.release();
  }

  private release(): void {
    this.pressed = null;
    this.dragging = false;
    if (this.controls) this.controls.enabled = true;
  }

  private pick(at: { x: number; y: number }, settled: boolean): void {
    if (!this.mesh) return;
    this.ray.setFromCamera(new Vector2((at.x / this.room.clientWidth) * 2 - 1, 1 - (at.y / this.room.clientHeight) * 2), this.camera);
    this.ray.firstHitOnly = true;
    const began = performance.now();
    const hit = this.ray.intersectObject(this.mesh, false)[0];
    const took = performance.now() - began;
    if (!hit) return;
    this.picked.geometry.setAttribute("position", new BufferAttribute(new Float32Array(hit.point.toArray()), 3));
    this.picked.visible = true;
    this.paint();
    if (!settled) return;
    const xyz = hit.point.clone().applyMatrix4(this.toArch.clone().invert()).toArray();
    const [x, y, z] = xyz.map((each) => each.toFixed(2));
    this.says.textContent = say(this.words.picked, { x: x!, y: y!, z: z! });
    this.dispatchEvent(new CustomEvent("surface-pick", { bubbles: true, detail: { xyz, ray_ms: took } }));
  }

  private key(event: KeyboardEvent): void {
    const step = arrowStep(event.key, event.shiftKey);
    if (step && this.controls) {
      const { target } = this.controls;
      const away = this.camera.position.clone().sub(target);
      const side = new Vector3().crossVectors(this.camera.up, away).normalize();
      const degree = Math.PI / 180;
      away.applyAxisAngle(this.camera.up, -step.dx * degree).applyAxisAngle(side, -step.dy * degree);
      this.camera.position.copy(target).add(away);
      this.controls.update();
    } else if (event.key === "+" || event.key === "-") {
      this.camera.zoom = Math.min(40, Math.max(0.5, this.camera.zoom * (event.key === "+" ? 1.25 : 0.8)));
      this.camera.updateProjectionMatrix();
    } else if (event.key === "Enter") {
      this.pick({ x: this.room.clientWidth / 2, y: this.room.clientHeight / 2 }, true);
    } else return;
    event.preventDefault();
    this.paint();
  }
}

customElements.define("mesh-view", MeshView);
