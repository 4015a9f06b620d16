"""What a click costs on a photograph of 12 megapixels: preparing it once, and each segment after that.

    python benchmarks/photo_snapping.py [PHOTO]

A photograph given is brought to 4000 x 3000; without one, teeth are drawn by formula. Segments between points on tooth outlines, of the lengths that clicks
have. CPU time of this process. Beside each, a graph search of scikit-image over the same window of the same grid, which gives the path of least cost pixel by pixel.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
from PIL import Image
from scipy import ndimage
from skimage.graph import route_through_array

from festoon.photo.edges import Points
from festoon.photo.reading import Photo, read_photo
from festoon.photo.snapping import Snapper, prepare, window

SIZE = (4000, 3000)
CENTRES = [(x, 1500.0) for x in (700.0, 1200.0, 1750.0, 2350.0, 2900.0, 3400.0)]
HALF = (230.0, 420.0)


def drawn() -> Photo:
    """Six white teeth on red, with shade, pigment, mirrored light and noise."""
    x, y = np.meshgrid(np.arange(SIZE[0], dtype=np.float32), np.arange(SIZE[1], dtype=np.float32))
    pixels = np.empty((SIZE[1], SIZE[0], 3), np.float32)
    pixels[:] = (190, 105, 100)
    pixels[(y < 1150) & (np.abs(x - 1900) < 500)] *= 0.55
    for cx, cy in CENTRES:
        pixels[(np.abs(x - cx) / HALF[0]) ** 2.6 + (np.abs(y - cy) / HALF[1]) ** 2.6 < 1] = (226, 214, 182)
        pixels[np.hypot(x - cx - 60, y - cy) < 40] = 255
    pixels *= (0.5 + 0.5 * x / SIZE[0])[..., None]
    pixels = ndimage.gaussian_filter(pixels, (3, 3, 0)) + np.random.default_rng(1).normal(0, 5, pixels.shape)
    return Photo("drawn", np.clip(pixels, 0, 255).astype(np.uint8), ())


def clicks(count: int, pairs: int) -> list[Points]:
    """Points on outlines, so many round a tooth, in neighbouring pairs."""
    rng = np.random.default_rng(count)
    out = []
    for _ in range(pairs):
        cx, cy = CENTRES[rng.integers(len(CENTRES))]
        angle = rng.uniform(0, 2 * np.pi) + np.array([0, 2 * np.pi / count])
        round_off = (np.abs(np.cos(angle)) ** 2.6 + np.abs(np.sin(angle)) ** 2.6) ** (-1 / 2.6)
        out.append(
            np.column_stack([cx + HALF[0] * round_off * np.cos(angle), cy + HALF[1] * round_off * np.sin(angle)])
        )
    return out


def milliseconds(work: Callable[..., object], *args: object) -> float:
    """CPU time of one call."""
    start = time.process_time()
    work(*args)
    return 1000 * (time.process_time() - start)


def plainly(snapper: Snapper, ends: Points) -> None:
    """A general graph search over the same window."""
    grid = snapper.looks.to_grid(ends)
    low, high = window(grid, snapper.costs[0].shape)
    nodes = [tuple(int(v) for v in np.floor(end + 0.5 - low)[::-1]) for end in grid]
    route_through_array(snapper.costs[0][low[1] : high[1], low[0] : high[0]], *nodes)


def main() -> None:
    """Measure and print."""
    photo = drawn()
    if len(sys.argv) > 1:
        given = read_photo(Path(sys.argv[1]))
        photo = Photo(given.name, np.asarray(Image.fromarray(given.pixels).resize(SIZE, Image.Resampling.BICUBIC)), ())
    start = time.process_time()
    snapper = prepare(photo)
    print(f"prepared {SIZE[0]} x {SIZE[1]} in {time.process_time() - start:.2f} s of CPU, kept {_kept(snapper):.0f} MB")
    print("clicks round a tooth   distance px   segment ms median / 95 % / most   plain search ms median   ratio")
    for count in (2, 4, 6, 10, 16):
        pairs = clicks(count, 60)
        ours = np.array([milliseconds(snapper.segment, *map(tuple, ends)) for ends in pairs])
        plain = np.array([milliseconds(plainly, snapper, ends) for ends in pairs])
        apart = np.median([np.hypot(*(ends[1] - ends[0])) for ends in pairs])
        spread = f"{np.median(ours):7.1f} / {np.percentile(ours, 95):.1f} / {ours.max():.1f}"
        print(f"{count:20} {apart:13.0f} {spread:>32} {np.median(plain):24.1f} {np.median(plain / ours):7.1f}")


def _kept(snapper: Snapper) -> float:
    arrays = [snapper.looks.lab, snapper.looks.glare, *snapper.costs]
    return sum(array.nbytes for array in arrays) / 1e6


if __name__ == "__main__":
    main()
