"""What speaks against a found margin although an edge is seen there: blood that covers it, a shade in which it lies.

A line along a pool of blood or round a shadow is as clear as a margin; only what lies beside it tells.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from festoon.photo.edges import Floats, Points
from festoon.photo.enamel import Arch

_WITHIN, _OUTSIDE = 14, 20
"""Crop pixels looked at on the tooth's side of a margin and on the gingiva's: 0.7 and 1 mm."""
_GINGIVA = slice(13, 17)
"""Of the rows of a band those that show gingiva as it is."""
_BLOODY = 2.2
"""Blood has this many times the a* for its L* that the gingiva of the same mouth has. Seen on one real photograph: at most 2.1 without blood, in eleven
kinds of light, noise and pigment, at least 2.9 with it, painted dark, bright or thin."""
_REDDER = 6.0
"""And it is redder by so much a*."""
_BLOODY_SHARE = 0.1
"""Part of a margin beside which it is noticed."""
_SHADED, _SHADED_SHARE = 0.62, 0.25
"""Tooth beside its margin with less than this part of the L* of its own or its neighbours' bodies lies in shade, along this part of the margin. Settings
of ours."""


def margin_doubts(
    arch: Arch, margins: Mapping[str, Points], outlines: Mapping[str, Points]
) -> dict[str, tuple[str, ...]]:
    """What lies beside each margin and may hide it, in words, by tooth; a tooth without doubts is left out.

    Parameters
    ----------
    arch : Arch
    margins, outlines : mapping of ISO 3950 code to array (N, 2)
        Crop pixels.
    """
    if not margins:
        return {}
    light, red = (ndimage.gaussian_filter(arch.lab[..., channel], 1.5) for channel in (0, 1))
    bands = {code: (_band(light, line), _band(red, line)) for code, line in margins.items()}
    gingiva = np.concatenate([(red / np.maximum(light, 5.0))[_GINGIVA].ravel() for light, red in bands.values()])
    usual = float(np.median(gingiva))
    usual_red = float(np.median(np.concatenate([red[_GINGIVA].ravel() for _, red in bands.values()])))
    bodies = {code: _body(light, line) for code, line in outlines.items() if code in margins}
    lit = float(np.median(list(bodies.values())))
    out = {}
    for code, (near_light, near_red) in bands.items():
        bloody = (near_red / np.maximum(near_light, 5.0) > _BLOODY * usual) & (near_red > usual_red + _REDDER)
        inside = near_light[: _WITHIN // 2].max(axis=0)
        shaded = inside < _SHADED * max(lit, bodies[code])
        said = []
        if bloody.any(axis=0).mean() > _BLOODY_SHARE:
            said.append(
                "dark red lies on its margin: if it is blood, dry the site and take the photograph again, or draw the margin"
            )
        if shaded.mean() > _SHADED_SHARE:
            said.append("its margin lies in shade")
        if said:
            out[code] = tuple(said)
    return out


def _band(image: Floats, line: Points) -> NDArray[np.float64]:
    """Values beside a margin, rows from the tooth's side to the gingiva's, every second pixel; shape (17, N)."""
    offsets = np.arange(-_WITHIN, _OUTSIDE, 2)[:, None]
    rows, columns = line[None, :, 1] - offsets, np.repeat(line[None, :, 0], len(offsets), axis=0)
    return np.asarray(ndimage.map_coordinates(image, [rows, columns], order=1, mode="nearest"), dtype=np.float64)


def _body(light: Floats, outline: Points) -> float:
    """Median lightness of the middle of a tooth."""
    middle = outline.mean(axis=0)
    inner = middle + 0.5 * (outline - middle)
    return float(np.median(ndimage.map_coordinates(light, [inner[:, 1], inner[:, 0]], order=1, mode="nearest")))
