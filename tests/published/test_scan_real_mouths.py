"""Real teeth with a collar of gingiva whose margin is known: not one designer's idea of a tooth. Made here, never shipped.

Teeth: teeth-cbct-upper (Gholamalizadeh et al. 2022, CC BY-NC-SA, for checking only) and photos-and-crowns-a (MIT).
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import trimesh

from festoon.model.dentition import Tooth
from festoon.model.quantities import Quantity
from festoon.scan.crowns import shells_of
from festoon.scan.orientation import find_lie
from festoon.scan.row import lay_out
from festoon.scan.surface import read_surface
from festoon.scan.teeth import find_teeth
from festoon.scan.trace import trace_scan
from festoon.workflow.measuring_scan import measure_scan
from real_mouths import FRONT, crowns_a, measured_directly, teeth_cbct, with_gingiva

pytestmark = pytest.mark.slow


@pytest.mark.parametrize(
    ("teeth", "length", "median", "worst"), [(teeth_cbct, 9.0, 0.15, 0.25), (crowns_a, 7.0, 0.10, 0.20)]
)
def test_margins_of_real_teeth_are_traced(
    shared_data: Path,
    teeth: Callable[[Path], dict[str, trimesh.Trimesh]],
    length: float,
    median: float,
    worst: float,
) -> None:
    """Numbers and jaw are found; the height of the margin, 50 um noise, RMS in the median tooth and in each."""
    mouth = with_gingiva(teeth(shared_data), length)
    arch = trace_scan(mouth.surface)
    assert tuple(t.fdi for t in arch.teeth) == FRONT
    rms = []
    for one in arch.teeth.values():
        curve = arch.frame.to_file(one.facial.curve)
        off = curve[:, 2] - mouth.height_of_margin(curve)
        rms.append(float(np.sqrt((off**2).mean())))
    assert float(np.median(rms)) < median
    assert max(rms) < worst


def test_bare_crowns_agree_with_their_single_meshes(shared_data: Path) -> None:
    """Widths and lengths of the six front crowns within 0.1 mm of the extents of their own mesh files along the same directions, and
    those that stand square to the view (11, 21, 22) within 0.1 mm of a measurement that knows nothing of ours."""
    folder = shared_data / "photos-and-crowns-a"
    measured = measure_scan(folder / "mesh" / "Ref_Upper_Mesh_Tag=0.obj")
    assert not measured.arch.not_traced
    for code in FRONT:
        one, (width, length) = (
            measured.arch.teeth[Tooth(code)],
            (
                next(r.value for r in measured.readings.readings if (r.tooth, r.quantity) == (code, quantity))
                for quantity in (Quantity.CROWN_WIDTH, Quantity.CROWN_LENGTH)
            ),
        )
        mesh = trimesh.load_mesh(folder / "mesh-by-tooth" / f"Ref_Mesh_Tag=0_FDI={code}.obj")
        at = one.frame.coordinates(measured.arch.frame.to_arch(np.asarray(mesh.vertices)))
        assert width == pytest.approx(float(np.ptp(at[:, 0])), abs=0.1)
        # Facially: the half that looks to the lips.
        facial = at[at[:, 1] > np.median(at[:, 1])]
        rim = facial[np.abs(facial[:, 0]) < 0.35 * width, 2].max()
        assert length == pytest.approx(float(rim), abs=0.1)
        if code in ("11", "21", "22"):
            direct = measured_directly(mesh)
            assert (width, length) == pytest.approx(direct, abs=0.1)
        assert any("bare crown" in (r.flag or "") for r in measured.readings.readings if r.tooth == code)


def test_a_whole_arch_of_bare_crowns_is_numbered(shared_data: Path) -> None:
    """The 14 upper crowns of photos-and-crowns-a, without gingiva, get their own numbers."""
    surface = read_surface(shared_data / "photos-and-crowns-a" / "mesh" / "Ref_Upper_Mesh_Tag=0.obj")
    lie, surface = find_lie(surface)
    row = lay_out(surface, lie)
    shells = shells_of(surface, row)
    assert shells is not None
    teeth = find_teeth(row, surface.name, spans=shells.spans).stretches
    assert [s.tooth.fdi for s in teeth] == [f"1{p}" for p in range(7, 0, -1)] + [f"2{p}" for p in range(1, 8)]
