"""The part as binary STL and as 3MF, in millimetres: the same bytes for the same part, on any day."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Mapping
from xml.sax.saxutils import escape, quoteattr

import numpy as np
import trimesh

from festoon.template.inputs import Sheet

_TYPES = (
    '<?xml version="1.0" encoding="UTF-8"?>\n<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">'
    '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
    '<Default Extension="model" ContentType="application/vnd.ms-package.3dmanufacturing-3dmodel+xml"/></Types>'
)
_LINKS = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">'
    '<Relationship Target="/3D/3dmodel.model" Id="rel0" Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/></Relationships>'
)


def stl_bytes(sheet: Sheet, header: str) -> bytes:
    """Binary STL; the header says case and plan."""
    p = sheet.vertices[sheet.faces].astype("<f4")
    normal = np.cross(p[:, 1] - p[:, 0], p[:, 2] - p[:, 0])
    normal /= np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-12)
    record = np.zeros(len(p), dtype=np.dtype([("n", "<f4", 3), ("p", "<f4", (3, 3)), ("a", "<u2")]))
    record["n"], record["p"] = normal, p
    head = header.encode("ascii", "replace")[:80].ljust(80)
    return b"".join((head, len(p).to_bytes(4, "little"), record.tobytes()))


def three_mf_bytes(sheet: Sheet, about: Mapping[str, str]) -> bytes:
    """3MF; ``about`` goes into its metadata."""
    points = "\n".join(f'<vertex x="{x:.5f}" y="{y:.5f}" z="{z:.5f}"/>' for x, y, z in sheet.vertices.tolist())
    faces = "\n".join(f'<triangle v1="{a}" v2="{b}" v3="{c}"/>' for a, b, c in sheet.faces.tolist())
    metadata = "".join(f"<metadata name={quoteattr(k)}>{escape(v)}</metadata>" for k, v in about.items())
    model = (
        '<?xml version="1.0" encoding="UTF-8"?>\n<model unit="millimeter" xml:lang="en-US" '
        'xmlns="http://schemas.microsoft.com/3dmanufacturing/core/2015/02">'
        f'{metadata}<resources><object id="1" type="model"><mesh>'
        f"<vertices>\n{points}\n</vertices><triangles>\n{faces}\n</triangles></mesh></object></resources>"
        '<build><item objectid="1"/></build></model>'
    )
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED, compresslevel=6) as archive:
        for name, text in (("[Content_Types].xml", _TYPES), ("_rels/.rels", _LINKS), ("3D/3dmodel.model", model)):
            # A fixed date: the archive must not say when it was made.
            archive.writestr(zipfile.ZipInfo(name, (1980, 1, 1, 0, 0, 0)), text, zipfile.ZIP_DEFLATED)
    return out.getvalue()


def read_back_stl(data: bytes) -> Sheet:
    """A written STL read by a library that had no part in making it."""
    mesh = trimesh.Trimesh(**trimesh.exchange.stl.load_stl(io.BytesIO(data)))
    mesh.merge_vertices()
    return Sheet(np.asarray(mesh.vertices, dtype=np.float64), np.asarray(mesh.faces, dtype=np.int64))
