import { expect, it } from "vitest";
import { VIEWS } from "./views";

type V = [number, number, number];
const cross = (a: V, b: V): V => [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]];

it.each(["front", "occlusal", "apical"] as const)("shows the patient's left on the right of the screen, seen from %s", (name) => {
  for (const jaw of ["upper", "lower"] as const) {
    const { from, up } = VIEWS[name](jaw);
    expect(cross(up, from).map((each) => each + 0)).toEqual([1, 0, 0]); // the screen's right: up × towards the eye
  }
});

it("looks at the upper teeth from below and at the lower ones from above", () => {
  expect(VIEWS.occlusal("upper").from).toEqual([0, 0, -1]);
  expect(VIEWS.occlusal("lower").from).toEqual([0, 0, 1]);
});
