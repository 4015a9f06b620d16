/** Plane geometry of the photo view: a window of the picture, in its pixels, is what the screen shows. */

export interface Window {
  x: number;
  y: number;
  width: number;
  height: number;
}

/** The window scaled by `factor` (below 1 enlarges the picture) about a point of the picture that stays where it is. */
export function zoomed(view: Window, factor: number, at: { x: number; y: number }, whole: Window): Window {
  const least = whole.width / 40;
  const width = Math.min(whole.width, Math.max(least, view.width * factor));
  const scale = width / view.width;
  return within(
    { x: at.x + (view.x - at.x) * scale, y: at.y + (view.y - at.y) * scale, width, height: view.height * scale },
    whole,
  );
}

/** The window moved, so that it does not leave the picture. */
export function within(view: Window, whole: Window): Window {
  const x = Math.min(Math.max(view.x, whole.x), whole.x + whole.width - view.width);
  const y = Math.min(Math.max(view.y, whole.y), whole.y + whole.height - view.height);
  return { ...view, x, y };
}

/** A value inside limits. */
export function clamp(value: number, low: number, high: number): number {
  return Math.min(high, Math.max(low, value));
}

/** How far one press of an arrow goes: ten steps with Shift. */
export function arrowStep(key: string, shift: boolean): { dx: number; dy: number } | null {
  const by = shift ? 10 : 1;
  switch (key) {
    case "ArrowLeft":
      return { dx: -by, dy: 0 };
    case "ArrowRight":
      return { dx: by, dy: 0 };
    case "ArrowUp":
      return { dx: 0, dy: -by };
    case "ArrowDown":
      return { dx: 0, dy: by };
    default:
      return null;
  }
}
