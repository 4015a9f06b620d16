/** Named views in the arch frame (x to the patient's left, y posterior, z superior): where the eye is, and what is up. */

export type ViewName = "front" | "right" | "left" | "occlusal" | "apical";
type Direction = [number, number, number];

export interface View {
  from: Direction;
  up: Direction;
}

const below: View = { from: [0, 0, -1], up: [0, -1, 0] };
const above: View = { from: [0, 0, 1], up: [0, 1, 0] };

export const VIEWS: Record<ViewName, (jaw: "upper" | "lower") => View> = {
  front: () => ({ from: [0, -1, 0], up: [0, 0, 1] }),
  right: () => ({ from: [-1, 0, 0], up: [0, 0, 1] }),
  left: () => ({ from: [1, 0, 0], up: [0, 0, 1] }),
  occlusal: (jaw) => (jaw === "upper" ? below : above),
  apical: (jaw) => (jaw === "upper" ? above : below),
};

export function isView(name: string): name is ViewName {
  return name in VIEWS;
}
