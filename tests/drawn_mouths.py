"""Pictures of teeth and gingiva drawn by formula, so that every outline is known to the pixel."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from festoon.photo.reading import Photo

ENAMEL, GINGIVA, DARK = (226, 214, 182), (196, 112, 108), (24, 12, 12)
FRONT = ("14", "13", "12", "11", "21", "22", "23", "24")
WIDTHS = (46, 62, 62, 84, 84, 62, 62, 46)
LENGTHS = (74, 96, 84, 98, 98, 84, 96, 74)
TOP = 130


@dataclass(frozen=True)
class DrawnMouth:
    """A picture and where each upper tooth is in it."""

    pixels: np.ndarray
    """Floats 0 to 255, shape (h, w, 3)."""
    teeth: dict[str, np.ndarray]
    """Mask by tooth."""

    def photo(self, pixels: np.ndarray | None = None) -> Photo:
        """As a photograph."""
        return Photo("drawn.png", np.clip(self.pixels if pixels is None else pixels, 0, 255).astype(np.uint8), ())

    def outline(self, tooth: str) -> np.ndarray:
        """Points (x, y) of the border of a tooth."""
        mask = self.teeth[tooth]
        ys, xs = np.nonzero(mask & ~ndimage.binary_erosion(mask))
        return np.column_stack([xs, ys]).astype(float)


def drawn_mouth(width: int = 640, height: int = 400, lower: bool = True) -> DrawnMouth:
    """Eight upper teeth in contact, and lower teeth behind them or the dark."""
    y, x = np.mgrid[:height, :width].astype(float)
    pixels = np.empty((height, width, 3))
    pixels[:] = GINGIVA
    opening = (y > TOP + 60) & (y < 300) & (np.abs(x - width / 2) < 275)
    pixels[opening] = DARK
    if lower:
        for middle in np.arange(width / 2 - 234, width / 2 + 235, 52):
            tooth = (np.abs((x - middle) / 24) ** 3 + np.abs((y - 232) / 55) ** 3) < 1
            shade = np.clip(1 - 0.25 * np.abs((x - middle) / 24) ** 4, 0, 1)[..., None]
            pixels[tooth] = (0.78 * np.array(ENAMEL) * shade)[tooth]
        pixels[(y > 262) & opening] = GINGIVA
        for middle in np.arange(width / 2 - 234, width / 2 + 235, 52):
            crown = (np.abs((x - middle) / 20) ** 2.5 + np.abs((y - 250) / 32) ** 2.5) < 1
            pixels[crown & (y > 262)] = 0.78 * np.array(ENAMEL)
    teeth = {}
    left = width / 2 - sum(WIDTHS) / 2
    for code, wide, long in zip(FRONT, WIDTHS, LENGTHS, strict=True):
        across, along = (x - left - wide / 2) / (wide / 2), (y - TOP - long / 2 - (98 - long) / 3) / (long / 2)
        power = np.where(along < 0, 2.2, 3.4)
        mask = np.abs(across) ** power + np.abs(along) ** power < 1
        shade = np.clip(1 - 0.16 * np.abs(across) ** 6, 0, 1)[..., None]
        pixels[mask] = (np.array(ENAMEL) * shade)[mask]
        teeth[code] = mask
        left += wide
    rng = np.random.default_rng(5)
    soft = ndimage.gaussian_filter(pixels, (1.0, 1.0, 0)) + rng.normal(0, 2, pixels.shape)
    return DrawnMouth(soft, teeth)
