"""A phantom's finished triangles, checked by libraries that had no part in making them."""

from __future__ import annotations

from pathlib import Path

import pytest
import trimesh

from festoon.phantom.solids import Solids, mesh_in_arch_frame
from festoon.phantom.truth import Truth


def solid_faults(solids: Solids) -> list[str]:
    """What is not watertight, or inside out, by trimesh."""
    faults = []
    for name, mesh in solids.every().items():
        body = trimesh.Trimesh(mesh.vertices, mesh.faces, process=False)
        if not body.is_watertight or not body.is_winding_consistent or body.volume <= 0:
            faults.append(f"{name}: watertight {body.is_watertight}, volume {body.volume:.3f}")
    return faults


def crossings(solids: Solids, folder: Path, only: tuple[str, ...] | None = None) -> list[str]:
    """Solids that are not closed or cross themselves, by CGAL; the test is skipped, loudly, where that is absent."""
    processing = pytest.importorskip(
        "CGAL.CGAL_Polygon_mesh_processing",
        reason="CGAL ABSENT: no self-intersection was looked for (pip install cgal)",
    )
    polyhedra = pytest.importorskip("CGAL.CGAL_Polyhedron_3")
    faults = []
    for name, mesh in solids.every().items():
        if only is not None and name not in only:
            continue
        path = folder / "one.off"
        n, m = len(mesh.vertices), len(mesh.faces)
        points = ("%.17g %.17g %.17g\n" * n) % tuple(mesh.vertices.ravel().tolist())
        faces = ("3 %d %d %d\n" * m) % tuple(mesh.faces.ravel().tolist())
        path.write_text(f"OFF\n{n} {m} 0\n{points}{faces}")
        body = polyhedra.Polyhedron_3(str(path))
        if not body.is_closed() or processing.does_self_intersect(body):
            faults.append(name)
    return faults


def differences(
    truth: Truth, solids: Solids, only: tuple[str, ...] | None = None
) -> dict[tuple[str, str, str | None], float]:
    """Measured again less true, by tooth, quantity and site."""
    from remeasure import Remeasured

    upper = truth.tissues.arch.mouth.upper
    made = {n: mesh_in_arch_frame(m, upper) for n, m in solids.every().items()}
    again = Remeasured({n: (m.vertices, m.faces) for n, m in made.items()}, upper, only)
    true = {(r.tooth, r.quantity.value, r.site.value if r.site else None): r.value for r in truth.readings}
    out: dict[tuple[str, str, str | None], float] = {}
    for fdi in only or tuple(again.teeth):
        for (quantity, site), value in again.measure(fdi).items():
            if (fdi, quantity, site) in true:
                out[fdi, quantity, site] = value - true[fdi, quantity, site]
    for pair in truth.tissues.arch.mouth.pairs:
        right, left = str(pair.right), str(pair.left)
        if only is None or (right in only and left in only):
            for (fdi, quantity, side), value in again.of_pair(right, left).items():
                if (fdi, quantity, side) in true:
                    out[fdi, quantity, side] = value - true[fdi, quantity, side]
    return out
