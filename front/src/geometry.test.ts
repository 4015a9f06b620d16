import { describe, expect, it } from "vitest";
import { arrowStep, within, zoomed } from "./geometry";
import { say } from "./attributes";

const whole = { x: 0, y: 0, width: 4000, height: 3000 };

describe("the window of a photo", () => {
  it("keeps the point under the pointer in its place", () => {
    const at = { x: 1000, y: 900 };
    const view = zoomed(whole, 0.5, at, whole);
    expect((at.x - view.x) / view.width).toBeCloseTo(at.x / 4000);
    expect((at.y - view.y) / view.height).toBeCloseTo(at.y / 3000);
  });
  it("never shows more than the picture, and never leaves it", () => {
    expect(zoomed(whole, 3, { x: 10, y: 10 }, whole)).toEqual(whole);
    expect(within({ x: -50, y: 2900, width: 400, height: 300 }, whole)).toEqual({ x: 0, y: 2700, width: 400, height: 300 });
  });
  it("stops at a fortieth of the width", () => {
    expect(zoomed(whole, 1e-6, { x: 0, y: 0 }, whole).width).toBe(100);
  });
});

it("takes ten steps with Shift", () => {
  expect(arrowStep("ArrowUp", true)).toEqual({ dx: 0, dy: -10 });
  expect(arrowStep("Enter", false)).toBeNull();
});

it("fills the places of a sentence and leaves unknown ones to be seen", () => {
  expect(say("{name}: {x} of {y}", { name: "11", x: 4 })).toBe("11: 4 of {y}");
});
