"""Surfaces as STL, PLY, OBJ and 3MF: the same bytes for the same surface, on any day."""

from __future__ import annotations

import io
import zipfile
from typing import Any

import numpy as np
import trimesh
from numpy.typing import NDArray

from festoon.phantom.shells import Mesh

_UNIT_NAMES = {"mm": "millimeter", "cm": "centimeter", "m": "meter", "inch": "inch"}
_TYPES = (
    '<?xml version="1.0" encoding="UTF-8"?>\n<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">'
    '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
    '<Default Extension="model" ContentType="application/vnd.ms-package.3dmanufacturing-3dmodel+xml"/></Types>'
)
_LINKS = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">'
    '<Relationship Target="/3D/3dmodel.model" Id="rel0" '
    'Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/></Relationships>'
)


def mesh_bytes(mesh: Mesh, kind: str, colours: NDArray[np.uint8] | None = None, unit: str = "mm") -> bytes:
    """The mesh as the bytes of a file.

    Parameters
    ----------
    mesh : Mesh
    kind : {"stl", "ply", "obj", "3mf"}
        Binary STL and PLY. Colours go into PLY and OBJ; STL and 3MF are written without.
    colours : array (N, 3), optional
    unit : {"mm", "cm", "m", "inch"}
        Only 3MF says it; the coordinates are in it already.
    """
    if kind == "3mf":
        return _three_mf(mesh, unit)
    kept = colours if kind in ("ply", "obj") else None
    body = trimesh.Trimesh(mesh.vertices, mesh.faces, vertex_colors=kept, process=False)
    extra: dict[str, Any] = {"include_normals": False, "header": None, "digits": 6} if kind == "obj" else {}
    data = body.export(file_type=kind, **extra)
    return data.encode() if isinstance(data, str) else bytes(data)


def _three_mf(mesh: Mesh, unit: str) -> bytes:
    vertices = "\n".join(f'<vertex x="{x:.6g}" y="{y:.6g}" z="{z:.6g}"/>' for x, y, z in mesh.vertices.tolist())
    faces = "\n".join(f'<triangle v1="{a}" v2="{b}" v3="{c}"/>' for a, b, c in mesh.faces.tolist())
    model = (
        f'<?xml version="1.0" encoding="UTF-8"?>\n<model unit="{_UNIT_NAMES[unit]}" xml:lang="en-US" '
        'xmlns="http://schemas.microsoft.com/3dmanufacturing/core/2015/02"><resources><object id="1" type="surface"><mesh>'
        f"<vertices>\n{vertices}\n</vertices><triangles>\n{faces}\n</triangles></mesh></object></resources>"
        '<build><item objectid="1"/></build></model>'
    )
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as archive:
        for name, text in (("[Content_Types].xml", _TYPES), ("_rels/.rels", _LINKS), ("3D/3dmodel.model", model)):
            # A fixed date: the archive must not say when it was made.
            archive.writestr(zipfile.ZipInfo(name, (1980, 1, 1, 0, 0, 0)), text, zipfile.ZIP_DEFLATED)
    return out.getvalue()
