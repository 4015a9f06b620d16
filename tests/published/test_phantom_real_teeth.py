"""Phantom teeth beside real ones. The real teeth are read for this check only; nothing of them is shipped or derived from."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
import trimesh

from festoon.phantom import population
from festoon.phantom.forms import ToothShape
from festoon.phantom.shells import whole
from festoon.phantom.tooth import ToothBody

UNIVERSAL = {6: 3, 7: 2, 8: 1, 9: 1, 10: 2, 11: 3}
"""Universal number to position: the six front teeth of teeth-cbct-upper (Gholamalizadeh et al. 2022)."""


def extents(vertices: np.ndarray, axes: np.ndarray) -> np.ndarray:
    """Size along each row of ``axes``."""
    return np.ptp(vertices @ axes.T, axis=0)


@pytest.mark.parametrize(("number", "position"), UNIVERSAL.items())
def test_real_front_teeth_are_within_what_phantoms_can_be(shared_data: Path, number: int, position: int) -> None:
    """Length, width and depth of one person's teeth lie within three spreads of the population the phantoms are drawn from."""
    folder = shared_data / "teeth-cbct-upper"
    given = json.loads((folder / "teeth_axes_maxilla.json").read_text("utf-8"))[str(number)]
    axes = np.array([given[name] for name in "xyz"]) - np.array(given["c"])
    axes /= np.linalg.norm(axes, axis=1, keepdims=True)
    mesh = trimesh.load(folder / f"tooth_{number}.stl")
    width, depth, length = extents(np.asarray(mesh.vertices), axes)
    crown = [population.crown_length(True, position, sex) for sex in ("male", "female")]
    cover, root = population.margin_to_cej(position), population.root_length(True, position)
    mean = np.mean([c.mean for c in crown]) + cover.mean + root.mean
    spread = float(np.hypot(np.hypot(crown[0].sd, cover.sd), root.sd))
    assert abs(length - mean) < 3 * spread
    widths = [population.crown_width(True, position, sex) for sex in ("male", "female")]
    assert min(w.mean - 3 * w.sd for w in widths) < width < max(w.mean + 3 * w.sd for w in widths)
    # Depths are from memory, and the extent of a leaning root counts in: within three tenths (the laterals are 1.3 to 1.6 mm deeper).
    assert depth == pytest.approx(population.DEPTH[True, position], rel=0.3)


def test_real_central_fills_its_box_as_a_phantom_does(shared_data: Path) -> None:
    """Volume over width x depth x length of the real upper centrals: within an eighth of a phantom's of the same size."""
    folder = shared_data / "teeth-cbct-upper"
    axes_of = json.loads((folder / "teeth_axes_maxilla.json").read_text("utf-8"))
    for number in (8, 9):
        given = axes_of[str(number)]
        axes = np.array([given[name] for name in "xyz"]) - np.array(given["c"])
        axes /= np.linalg.norm(axes, axis=1, keepdims=True)
        mesh = trimesh.load(folder / f"tooth_{number}.stl")
        size = extents(np.asarray(mesh.vertices), axes)
        real = mesh.volume / float(np.prod(size))
        body = ToothBody(
            ToothShape(1, True, float(size[0]), float(size[1]), 11.0, float(size[2]) - 11.0, 3.4, 3.9, 2.5, 2.2)
        )
        made = whole(body)
        made_mesh = trimesh.Trimesh(made.vertices, made.faces, process=False)
        assert made_mesh.volume / float(np.prod(np.ptp(made.vertices, axis=0))) == pytest.approx(real, rel=0.125)


def test_cej_of_a_real_central_rises_as_a_phantoms_can(shared_data: Path) -> None:
    """Rise of the CEJ of the incisor of incisor-layers (3.4 mm by its README) lies in the range phantoms are drawn from."""
    points = np.loadtxt(shared_data / "incisor-layers" / "derived" / "uri1_cej_outline.csv", delimiter=",", skiprows=1)[
        :, -3:
    ]
    dentine = trimesh.load(shared_data / "incisor-layers" / "derived" / "uri1_mesh2_dentine.ply", process=False)
    axis = np.linalg.svd(np.asarray(dentine.vertices) - np.asarray(dentine.vertices).mean(axis=0), full_matrices=False)[
        2
    ][0]
    rise = float(np.ptp(points @ axis))
    spread = population.cej_rise(True, 1)
    assert abs(rise - spread.mean) < 3 * spread.sd
