"""A labelled voxel volume of a phantom, from which a scan by X-rays can be made."""

from __future__ import annotations

import io
import math
import zlib
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

from festoon.phantom import shells
from festoon.phantom.solids import in_arch_frame, sampled
from festoon.phantom.tissues import LIGAMENT, Collar, Tissues

Floats = NDArray[np.float64]


class Label(IntEnum):
    """What fills a voxel."""

    AIR = 0
    ENAMEL = 1
    DENTINE = 2
    """With the cementum of the root."""
    PULP = 3
    LIGAMENT = 4
    BONE = 5
    GINGIVA = 6
    """Gingiva and other mucosa."""


def label_points(tissues: Tissues, points: Floats) -> NDArray[np.uint8]:
    """The label of each point (jaw coordinates), shape (N,)."""
    out = np.where(tissues.gingiva(points) < 0, np.uint8(Label.GINGIVA), np.uint8(Label.AIR))
    out[tissues.bone(points) < 0] = Label.BONE
    for collar in tissues.collars:
        low, high = collar.room
        near = np.flatnonzero(((points > low) & (points < high)).all(axis=1))
        out[near] = _with_tooth(collar, points[near], out[near])
    out[(points[:, 2] > tissues.base) | (points[:, 1] > tissues.back)] = Label.AIR
    return out


def _with_tooth(collar: Collar, points: Floats, labels: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """The labels (N,) of points (N, 3) after a tooth and its ligament have taken their places."""
    body, out = collar.placed.body, labels.copy()
    if not len(points):
        return out
    local = collar.placed.to_local(points)
    d, phi, w = body.polar(local)
    whole = np.maximum(d, body.above_cap(local))
    # Round the root, ligament instead of bone.
    below = w > collar.crest(phi)
    out[(whole >= 0) & (d < LIGAMENT) & below & (out == Label.BONE)] = Label.LIGAMENT
    inside = whole < 0
    at = np.flatnonzero(inside)
    out[at] = Label.DENTINE
    p, angle, level = local[inside], phi[inside], w[inside]
    out[at[_in_enamel(collar, p, d[inside], angle, level)]] = Label.ENAMEL
    out[at[shells.in_pulp(body, p)]] = Label.PULP
    return out


def _in_enamel(collar: Collar, points: Floats, d: Floats, phi: Floats, w: Floats) -> NDArray[np.bool_]:
    """Whether points of a tooth lie in its enamel: nearer to the crown's surface than the enamel is thick there."""
    body = collar.placed.body
    neck = body.cej(phi)
    cap = -body.above_cap(points) < shells.edge_enamel(body)
    out = np.asarray((w < neck) & cap)
    # The rim is sought step by step: only for points that it decides about.
    most = float(shells.enamel_thickness(body, np.zeros(1))[0])
    at = np.flatnonzero((w < neck) & ~cap & (-d < most))
    top = body.rim(phi[at])
    share = np.clip((w[at] - top) / np.maximum(neck[at] - top, 1e-6), 0, 1)
    out[at] = -d[at] < shells.enamel_thickness(body, share)
    return out


def make_volume(tissues: Tissues, spacing: float) -> tuple[NDArray[np.uint8], Floats]:
    """Labels on a grid of the arch frame.

    Returns
    -------
    labels : array (nx, ny, nz) of uint8
        Indices along x, y, z of the arch frame.
    affine : array (4, 4)
        Voxel index to mm in the arch frame: centres of voxels.
    """
    low, high = tissues.box()
    low = low - [0, 0, 4.0]
    size = np.ceil((high - low) / spacing).astype(int) + 1
    # Fields are worked out near their surfaces alone: blocks of about 0.6 mm, and a reach of more than their diagonal's half.
    block = max(1, round(0.6 / spacing))
    gingiva, bone = (
        sampled(field, low, high, spacing, block, 1.0)[: size[0], : size[1], : size[2]] < 0
        for field in (tissues.gingiva, tissues.bone)
    )
    labels = np.where(gingiva, np.uint8(Label.GINGIVA), np.uint8(Label.AIR))
    labels[bone] = Label.BONE
    for collar in tissues.collars:
        first, last = ((corner - low) / spacing for corner in collar.room)
        box = tuple(
            slice(max(0, math.floor(a)), min(n, math.ceil(b) + 1)) for a, b, n in zip(first, last, size, strict=True)
        )
        index = np.stack(np.meshgrid(*[np.arange(s.start, s.stop) for s in box], indexing="ij"), -1)
        shape = index.shape[:3]
        labels[box] = _with_tooth(collar, low + spacing * index.reshape(-1, 3), labels[box].ravel()).reshape(shape)
    labels[:, low[1] + spacing * np.arange(size[1]) > tissues.back] = Label.AIR
    labels[:, :, low[2] + spacing * np.arange(size[2]) > tissues.base] = Label.AIR
    affine = np.diag([spacing, spacing, spacing, 1.0])
    affine[:3, 3] = low
    if not tissues.arch.mouth.upper:
        # z of the arch frame is minus the height: turn the axis, so that indices still grow with x, y and z.
        labels = np.ascontiguousarray(labels[:, :, ::-1])
        affine[2, 3] = in_arch_frame(np.array([[0.0, 0.0, low[2] + spacing * (size[2] - 1)]]), False)[0, 2]
    return labels, affine


def volume_nrrd(labels: NDArray[np.uint8], affine: Floats) -> bytes:
    """The volume as a gzipped NRRD file: LPS space, so that x points left, y posterior and z superior as in the arch frame."""
    spacing = np.diag(affine)[:3]
    origin = affine[:3, 3]
    header = "\n".join(
        [
            "NRRD0004",
            "type: uint8",
            "dimension: 3",
            "space: left-posterior-superior",
            "sizes: " + " ".join(str(n) for n in labels.shape),
            "space directions: " + " ".join(f"({a:.6g},{b:.6g},{c:.6g})" for a, b, c in np.diag(spacing)),
            "kinds: domain domain domain",
            "encoding: gzip",
            f"space origin: ({origin[0]:.6f},{origin[1]:.6f},{origin[2]:.6f})",
            'space units: "mm" "mm" "mm"',
            *[f"label {label.value}:={label.name.lower()}" for label in Label],
        ]
    )
    # The first index runs fastest. The gzip header carries no time, so that the same volume is the same bytes.
    packer = zlib.compressobj(4, zlib.DEFLATED, 31)
    out = io.BytesIO()
    out.write(header.encode() + b"\n\n")
    out.write(packer.compress(np.asfortranarray(labels).tobytes(order="F")) + packer.flush())
    return out.getvalue()
