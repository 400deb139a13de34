// @ts-check
// The scene: solids on the ground, seen from far away (no part made smaller for lying farther
// off, so that lengths compare), turned about the middle of the body, cut by a plane. Drawn
// only when something changed, so that it also runs where the processor does all the work.

// @ts-ignore - the library ships no types
import * as THREE from "./vendor/three-0.187.0/build/three.module.js";
import { readGlb } from "./glb_reading.js";

const STEEPEST = 90;
const CUT_COLOUR = 0xb0563c;
const MARK_COLOUR = 0x0072b2;
const NICE = [1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000];

/** Directions of the cut: which axis of the scene, and in which sense what is kept lies. */
export const CUTS = {
  across: new THREE.Vector3(0, 0, -1),
  lengthwise: new THREE.Vector3(1, 0, 0),
  level: new THREE.Vector3(0, -1, 0),
};

export class RoundScene {
  /** @param {HTMLCanvasElement} canvas */
  constructor(canvas) {
    this.canvas = canvas;
    this.renderer = new THREE.WebGLRenderer({ canvas, antialias: true, alpha: true, preserveDrawingBuffer: true });
    this.renderer.localClippingEnabled = true;
    this.scene = new THREE.Scene();
    this.camera = new THREE.OrthographicCamera(-1, 1, 1, -1, 1, 20000);
    this.lamp = new THREE.DirectionalLight(0xffffff, 2.1);
    this.scene.add(new THREE.HemisphereLight(0xffffff, 0x8a8478, 1.5), this.lamp, this.lamp.target);
    this.plane = new THREE.Plane(CUTS.across.clone(), 0);
    this.cutting = false;
    this.azimuth = 0;
    this.elevation = 0;
    this.closeness = 1;
    this.middle = new THREE.Vector3(0, 300, 0);
    this.reach = 500;
    /** @type {Map<string, any>} */
    this.layers = new Map();
    this.marks = new THREE.Group();
    this.scene.add(this.marks);
    this.drawn = 0;
    /** @type {() => void} */
    this.afterDrawing = () => {};
    this.resizing = new ResizeObserver(() => this.draw());
    this.resizing.observe(canvas);
  }

  /** Fetch a solid and lay it into the scene. @param {string} name @param {string} address
   * @param {{opacity?: number, order?: number}} [look] */
  async load(name, address, { opacity = 1, order = 0 } = {}) {
    const response = await fetch(address);
    if (!response.ok) throw new Error((await response.json().catch(() => null))?.error ?? "The solid did not come.");
    const parts = readGlb(await response.arrayBuffer());
    const group = new THREE.Group();
    for (const part of parts) {
      const shape = new THREE.BufferGeometry();
      shape.setAttribute("position", new THREE.BufferAttribute(part.positions, 3));
      shape.setIndex(new THREE.BufferAttribute(part.corners, 1));
      if (part.normals) shape.setAttribute("normal", new THREE.BufferAttribute(part.normals, 3));
      else shape.computeVertexNormals();
      const look = { transparent: opacity < 1, opacity, depthWrite: opacity === 1 };
      const colour = new THREE.Color().setRGB(part.colour[0], part.colour[1], part.colour[2], THREE.SRGBColorSpace);
      const outside = new THREE.Mesh(shape, new THREE.MeshLambertMaterial({ color: colour, ...look }));
      // Of a closed solid that is cut, the inside of its far wall is seen where the cut is:
      // in one flat colour it looks filled.
      const inside = new THREE.Mesh(shape, new THREE.MeshBasicMaterial({ color: opacity < 1 ? colour : CUT_COLOUR, side: THREE.BackSide, ...look }));
      inside.visible = false;
      outside.renderOrder = order;
      inside.renderOrder = order;
      outside.name = part.name;
      group.add(outside, inside);
    }
    group.userData = { parts: parts.length };
    this.remove(name);
    this.layers.set(name, group);
    this.scene.add(group);
    this.#cutAll();
    return group;
  }

  /** Lay a flat outline into the plane of symmetry. @param {string} name
   * @param {[number, number][]} outline forward and up, mm */
  addOutline(name, outline) {
    const points = outline.map(([forward, up]) => new THREE.Vector3(0, up, forward));
    const line = new THREE.LineLoop(
      new THREE.BufferGeometry().setFromPoints(points),
      new THREE.LineBasicMaterial({ color: CUT_COLOUR, depthTest: false }),
    );
    line.renderOrder = 9;
    this.remove(name);
    this.layers.set(name, line);
    this.scene.add(line);
  }

  /** @param {string} name */
  remove(name) {
    const layer = this.layers.get(name);
    if (!layer) return;
    layer.traverse((/** @type {any} */ each) => {
      each.geometry?.dispose();
      each.material?.dispose();
    });
    this.scene.remove(layer);
    this.layers.delete(name);
  }

  /** @param {string} name @param {boolean} shown */
  show(name, shown) {
    const layer = this.layers.get(name);
    if (layer) layer.visible = shown;
  }

  /** Stand back so that everything shown is seen, and turn about its middle. */
  frame() {
    const box = new THREE.Box3();
    for (const layer of this.layers.values()) if (layer.visible) box.expandByObject(layer);
    if (box.isEmpty()) return;
    box.getCenter(this.middle);
    this.reach = box.getSize(new THREE.Vector3()).length() / 2;
    this.box = box;
    this.closeness = 1;
  }

  /** @param {number} azimuth degrees @param {number} elevation degrees */
  lookFrom(azimuth, elevation) {
    this.azimuth = ((azimuth % 360) + 360) % 360;
    this.elevation = Math.max(-STEEPEST, Math.min(STEEPEST, elevation));
    this.draw();
  }

  /** @param {number} times */
  comeCloser(times) {
    this.closeness = Math.max(0.3, Math.min(30, this.closeness * times));
    this.draw();
  }

  /** Move what is looked at, by a share of the picture. @param {number} right @param {number} up */
  shift(right, up) {
    const across = 2 * this.camera.right;
    const high = 2 * this.camera.top;
    this.middle
      .addScaledVector(new THREE.Vector3().setFromMatrixColumn(this.camera.matrixWorld, 0), right * across)
      .addScaledVector(new THREE.Vector3().setFromMatrixColumn(this.camera.matrixWorld, 1), up * high);
    this.draw();
  }

  /** Cut at a share of the extent of what is shown. @param {keyof typeof CUTS|""} how
   * @param {number} share 0 to 1 @returns {number} the place of the cut, mm */
  cut(how, share) {
    this.cutting = how !== "";
    let place = 0;
    if (how && this.box) {
      const axis = how === "across" ? "z" : how === "level" ? "y" : "x";
      place = this.box.min[axis] + share * (this.box.max[axis] - this.box.min[axis]);
      this.plane.normal.copy(CUTS[how]);
      this.plane.constant = -this.plane.normal[axis] * place;
    }
    this.#cutAll();
    this.draw();
    return place;
  }

  #cutAll() {
    for (const layer of this.layers.values()) {
      layer.traverse((/** @type {any} */ each) => {
        if (!each.isMesh) return;
        each.material.clippingPlanes = this.cutting ? [this.plane] : null;
        each.material.needsUpdate = true;
        if (each.material.side === THREE.BackSide) each.visible = this.cutting;
      });
    }
  }

  /** The point of the surface under a place of the picture, mm in the scene's axes.
   * @param {number} clientX @param {number} clientY @returns {any} */
  pick(clientX, clientY) {
    const frame = this.canvas.getBoundingClientRect();
    const at = new THREE.Vector2(
      (2 * (clientX - frame.left)) / frame.width - 1,
      1 - (2 * (clientY - frame.top)) / frame.height,
    );
    const ray = new THREE.Raycaster();
    ray.setFromCamera(at, this.camera);
    const shown = [...this.layers.values()].filter((layer) => layer.visible && layer.isGroup);
    const hits = ray.intersectObjects(shown, true).filter(
      (/** @type {any} */ hit) => hit.object.visible && (!this.cutting || this.plane.distanceToPoint(hit.point) >= 0),
    );
    return hits[0]?.point ?? null;
  }

  /** Show points and the line between them. @param {any[]} points */
  mark(points) {
    for (const old of this.marks.children) {
      old.geometry.dispose();
      old.material.dispose();
    }
    this.marks.clear();
    const size = this.reach / 55;
    for (const point of points) {
      const ball = new THREE.Mesh(
        new THREE.SphereGeometry(size, 16, 12),
        new THREE.MeshBasicMaterial({ color: MARK_COLOUR, depthTest: false }),
      );
      ball.position.copy(point);
      ball.renderOrder = 10;
      this.marks.add(ball);
    }
    if (points.length === 2) {
      const line = new THREE.Line(
        new THREE.BufferGeometry().setFromPoints(points),
        new THREE.LineBasicMaterial({ color: MARK_COLOUR, depthTest: false }),
      );
      line.renderOrder = 10;
      this.marks.add(line);
    }
    this.draw();
  }

  /** @param {number} forward @param {number} left @param {number} up */
  place(forward, left, up) {
    return new THREE.Vector3(left, up, forward);
  }

  draw() {
    const wide = this.canvas.clientWidth;
    const high = this.canvas.clientHeight;
    if (!wide || !high) return;
    this.renderer.setPixelRatio(Math.min(window.devicePixelRatio, 2));
    this.renderer.setSize(wide, high, false);
    const half = (0.92 * this.reach) / this.closeness;
    const share = wide / high;
    this.camera.top = share > 1 ? half : half / share;
    this.camera.right = this.camera.top * share;
    this.camera.bottom = -this.camera.top;
    this.camera.left = -this.camera.right;
    const round = (this.azimuth * Math.PI) / 180;
    // Straight from above there would be no telling which way is up.
    const steep = (Math.max(-89.9, Math.min(89.9, this.elevation)) * Math.PI) / 180;
    const towards = new THREE.Vector3(-Math.cos(round) * Math.cos(steep), Math.sin(steep), Math.sin(round) * Math.cos(steep));
    this.camera.position.copy(this.middle).addScaledVector(towards, 8000);
    this.camera.lookAt(this.middle);
    this.camera.updateProjectionMatrix();
    this.camera.updateMatrixWorld();
    // The lamp comes over the left shoulder, whichever way the body is turned.
    this.lamp.position.set(-0.5, 0.9, 1).applyQuaternion(this.camera.quaternion).multiplyScalar(1000).add(this.middle);
    this.lamp.target.position.copy(this.middle);
    this.renderer.render(this.scene, this.camera);
    this.drawn += 1;
    this.afterDrawing();
  }

  /** A bar of a round length that takes about a fifth of the picture.
   * @returns {{mm: number, share: number}} */
  bar() {
    const across = 2 * this.camera.right;
    const mm = NICE.filter((length) => length <= across / 4).at(-1) ?? NICE[0];
    return { mm, share: mm / across };
  }

  leave() {
    this.resizing.disconnect();
    for (const name of [...this.layers.keys()]) this.remove(name);
    this.renderer.dispose();
  }
}
