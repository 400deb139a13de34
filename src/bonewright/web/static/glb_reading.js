// @ts-check
// Reads the GLB files this program writes: named meshes of triangles, each in one colour.
// Lengths come out in mm, y up, z forward, x to the animal's left.

const MAGIC = 0x46546c67;
const JSON_CHUNK = 0x4e4f534a;
const MM_PER_M = 1000;
const NUMBERS = new Map([
  [5123, Uint16Array],
  [5125, Uint32Array],
  [5126, Float32Array],
]);
const WIDTHS = new Map([
  ["SCALAR", 1],
  ["VEC3", 3],
]);

/** @typedef {{name: string, positions: Float32Array, normals: Float32Array|null,
 *   corners: Uint32Array, colour: [number, number, number]}} Part */

/** @param {ArrayBuffer} buffer @returns {Part[]} */
export function readGlb(buffer) {
  const view = new DataView(buffer);
  if (view.getUint32(0, true) !== MAGIC) throw new Error("The solid that came is no GLB file.");
  const length = view.getUint32(12, true);
  if (view.getUint32(16, true) !== JSON_CHUNK) throw new Error("The GLB file has no contents.");
  const told = JSON.parse(new TextDecoder().decode(new Uint8Array(buffer, 20, length)));
  const start = 20 + length + 8;

  /** @param {number} index */
  const numbers = (index) => {
    const accessor = told.accessors[index];
    const part = told.bufferViews[accessor.bufferView];
    const kind = NUMBERS.get(accessor.componentType);
    const width = WIDTHS.get(accessor.type);
    if (!kind || !width || part.byteStride) throw new Error("The GLB file is laid out in a way this page does not know.");
    const from = start + (part.byteOffset ?? 0) + (accessor.byteOffset ?? 0);
    const count = accessor.count * width;
    return new kind(buffer.slice(from, from + count * kind.BYTES_PER_ELEMENT));
  };

  return told.meshes.map((/** @type {any} */ mesh) => {
    const piece = mesh.primitives[0];
    const normal = piece.attributes.NORMAL;
    const colour = told.materials?.[piece.material]?.pbrMetallicRoughness?.baseColorFactor ?? [0.8, 0.8, 0.8];
    return {
      name: mesh.name ?? "",
      positions: Float32Array.from(numbers(piece.attributes.POSITION), (metres) => metres * MM_PER_M),
      normals: normal === undefined ? null : Float32Array.from(numbers(normal)),
      corners: Uint32Array.from(numbers(piece.indices)),
      colour: colour.slice(0, 3),
    };
  });
}
