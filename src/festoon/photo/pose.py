"""Where the camera stood: the pose that lays the scan's crowns on the crowns in the picture.

A pinhole with one term of radial distortion. The seen borders of the scanned crowns are drawn for a pose, paired with the marked outlines,
and the pose is solved again (Levenberg-Marquardt on distances across the outline) until nothing moves. Its covariance comes from the Jacobian.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import igl
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import label as components
from scipy.optimize import least_squares
from scipy.spatial import cKDTree
from scipy.spatial.transform import Rotation
from skimage.measure import find_contours

from festoon.kernels.tooth_frame import ToothFrame
from festoon.model.dentition import Tooth
from festoon.photo.crown import PixelCrown
from festoon.photo.framing import MIDDLE_SPREAD, Framing

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_FRONTAL = np.array([[1.0, 0, 0], [0, 0, -1.0], [0, 1.0, 0]])
"""Right, down and forward of a camera straight in front, in the arch frame (x left of the patient, y posterior, z superior)."""
_DISTANCE_MM, _DISTANCE_LN = 300.0, 0.4
"""Usual distance and spread of its logarithm, where the file says no focal length (common practice, no source)."""
_FOCAL_LN = 0.15
"""Spread of ln focal length where the file says one: at close range the image lies further behind the lens (common practice, no source)."""
_BENT_AT_CORNER = 0.03
"""Spread of the radial distortion at the corner of the picture, as a share (from memory: small cameras 1 to 3 %)."""
_COUNT = 10
"""Parameters of a pose."""
_CELLS = 300
"""Seen borders are drawn on a grid of so many columns over the teeth."""
_ROUNDS = 14
_PER_TOOTH = 110
_FAR_MM, _NEAR_MM = 5.0, 1.5
"""A marked point is paired with a border no further off than this, mm: in the first rounds, then."""
_STILL_PX = 0.05
"""Nothing moves any more when edges move less than this between rounds, pixels."""
_SAME_AS_MM = 1.5
"""Errors along an outline are alike over about this length, mm: more points do not make the pose surer."""
_FORM_MM = 0.10
"""What outline and scan differ by beside the marks, mm."""


@dataclass(frozen=True)
class ScannedFront:
    """The surface of a scan and the teeth on it, arch frame, mm."""

    vertices: Floats
    faces: Ints
    tooth_of_face: Ints
    """ISO 3950 number by face, 0 for gingiva."""
    frames: Mapping[Tooth, ToothFrame]

    @cached_property
    def tree(self) -> Any:
        """Of the triangles, for rays."""
        tree = igl.AABB()
        tree.init(np.ascontiguousarray(self.vertices), np.ascontiguousarray(self.faces))
        return tree

    def crown(self, tooth: Tooth) -> Floats:
        """Vertices of one crown."""
        mine = self.faces[self.tooth_of_face == int(tooth.fdi)]
        return np.asarray(self.vertices[np.unique(mine)])


@dataclass(frozen=True)
class Pose:
    """A camera before the arch."""

    parameters: Floats
    """Rotation vector from the frontal camera (3), place of the arch's origin before it, right and down as shares of the distance (2), ln distance, ln focal, k1,
    and where the axis meets the picture, from its middle, right and down as shares of its longer side (2)."""
    covariance: Floats
    size: tuple[int, int]
    """Width and height of the picture."""
    residual_px: float = 0.0
    """Root mean square distance across the outlines."""
    used: tuple[Tooth, ...] = ()

    @property
    def rotation(self) -> Floats:
        """Rows: right, down and forward of the camera in the arch frame."""
        return np.asarray(Rotation.from_rotvec(self.parameters[:3]).as_matrix() @ _FRONTAL)

    @property
    def distance_mm(self) -> float:
        """Of the arch's origin along the line of sight."""
        return float(np.exp(self.parameters[5]))

    @property
    def focal_px(self) -> float:
        """Focal length."""
        return float(np.exp(self.parameters[6]))

    @property
    def position(self) -> Floats:
        """Centre of projection, arch frame, mm."""
        return np.asarray(-self._shift @ self.rotation)

    @property
    def sight(self) -> Floats:
        """Direction from the camera to the arch's origin, unit: what it shows of the teeth hangs on this, wherever in the frame they stand."""
        return np.asarray(-self.position / np.linalg.norm(self.position))

    @property
    def _shift(self) -> Floats:
        return np.asarray(self.distance_mm * np.array([self.parameters[3], self.parameters[4], 1.0]))

    @property
    def angles_deg(self) -> tuple[float, float, float]:
        """Yaw (positive from the patient's left) and pitch (positive from above) of the line of sight, roll (positive: the camera clockwise)."""
        right, _, forward = self.rotation
        yaw = np.degrees(np.arctan2(-self.sight[0], self.sight[1]))
        pitch = np.degrees(np.arcsin(-self.sight[2]))
        level = np.cross(forward, [0.0, 0.0, 1.0])
        level /= np.linalg.norm(level)
        roll = np.degrees(np.arctan2(float(np.cross(level, right) @ forward), float(level @ right)))
        return float(yaw), float(pitch), float(roll)

    def project(self, points: Floats) -> Floats:
        """Pixels (column, row) of points (N, 3), arch frame, mm."""
        local = points @ self.rotation.T + self._shift
        flat = local[:, :2] / local[:, 2:]
        bent = flat * (1 + self.parameters[7] * (flat**2).sum(axis=1, keepdims=True))
        return np.asarray(bent * self.focal_px + self.axis_px)

    @property
    def axis_px(self) -> Floats:
        """Where the camera's axis meets the picture, pixels."""
        return np.asarray((np.array(self.size) - 1) / 2 + self.parameters[8:10] * max(self.size))

    def depth(self, points: Floats) -> Floats:
        """Distance along the line of sight of points (N, 3), mm."""
        return np.asarray(points @ self.rotation[2] + self.distance_mm)

    def rays(self, pixels: Floats) -> Floats:
        """Directions of pixels (N, 2) with unit depth, arch frame, shape (N, 3)."""
        bent = (pixels - self.axis_px) / self.focal_px
        flat = bent.copy()
        for _ in range(8):
            flat = bent / (1 + self.parameters[7] * (flat**2).sum(axis=1, keepdims=True))
        return np.asarray(np.concatenate([flat, np.ones((len(flat), 1))], axis=1) @ self.rotation)

    def at_depth(self, pixels: Floats, depth: Floats) -> Floats:
        """Points (N, 3) seen at pixels (N, 2) at a depth each, arch frame, mm."""
        return np.asarray(self.position + depth[:, None] * self.rays(pixels))


@dataclass(frozen=True)
class Border:
    """The seen border of one scanned crown for a pose."""

    pixels: Floats
    points: Floats
    """In space, arch frame, mm."""


def seen_borders(front: ScannedFront, pose: Pose) -> dict[Tooth, Border]:
    """Borders of what is seen of each crown, other crowns and gingiva before it."""
    every = pose.project(np.concatenate([front.crown(t) for t in front.frames]))
    low, high = every.min(axis=0) - 4, every.max(axis=0) + 4
    step = float(high[0] - low[0]) / _CELLS
    column, row = np.meshgrid(np.arange(low[0], high[0], step), np.arange(low[1], high[1], step))
    direction = pose.rays(np.stack([column, row], -1).reshape(-1, 2))
    start = np.broadcast_to(pose.position, direction.shape)
    face, depth, _ = front.tree.intersect_ray_first(
        front.vertices, front.faces, np.ascontiguousarray(start), np.ascontiguousarray(direction)
    )
    face = np.asarray(face).reshape(column.shape)
    depth = np.asarray(depth).reshape(column.shape)
    tooth_at = np.where(face >= 0, front.tooth_of_face[np.maximum(face, 0)], 0)
    out = {}
    for tooth in front.frames:
        parts, _ = components(tooth_at == int(tooth.fdi))
        sizes = np.bincount(parts.ravel())[1:]
        if not len(sizes) or sizes.max() < 60:
            continue
        mask = np.pad(parts == 1 + int(sizes.argmax()), 1)
        rings: list[Floats] = find_contours(mask.astype(float), 0.5)
        line = max(rings, key=len)[:, ::-1] - 1
        inside = np.argwhere(mask[1:-1, 1:-1])
        _, k = cKDTree(inside[:, ::-1]).query(line)
        pixels = low + line * step
        out[tooth] = Border(pixels, pose.at_depth(pixels, depth[inside[k, 0], inside[k, 1]]))
    return out


def solve_pose(
    front: ScannedFront,
    crowns: Mapping[Tooth, PixelCrown],
    size: tuple[int, int],
    mark_se: float,
    focal_px: float | None = None,
    margins: bool = False,
    framing: Framing = Framing.UNKNOWN,
) -> Pose | None:
    """Solve where the camera stood.

    Parameters
    ----------
    front : ScannedFront
    crowns : mapping of Tooth to PixelCrown
        With outlines; at least three must be on the scan.
    size : (width, height)
        Of the picture.
    mark_se : float
        Standard error of a mark, pixels.
    focal_px : float, optional
        Where the file says one; else it is solved beside a usual distance.
    margins : bool
        Use gingival margins too: only where scan and photograph show one state of the tissue.
    framing : Framing
        Whether the camera's axis goes through the middle of the picture.

    Returns
    -------
    Pose or None
        None where fewer than three outlined teeth are on the scan.
    """
    shared = [t for t, c in crowns.items() if t in front.frames and c.outline is not None]
    if len(shared) < 3:
        return None
    prior = _prior(focal_px, framing)
    pose = _first(front, crowns, shared, size, prior)
    marked = {t: _marked(crowns[t], margins) for t in shared}
    edges = np.array([front.frames[t].edge for t in shared])
    for turn in range(_ROUNDS):
        before = pose.project(edges)
        pairs = _paired(seen_borders(front, pose), marked, pose, _FAR_MM if turn < 4 else _NEAR_MM)
        pose = _solved(pose, pairs, mark_se, prior)
        if turn > 5 and np.abs(pose.project(edges) - before).max() < _STILL_PX:
            break
    return replace(pose, used=tuple(shared))


def _prior(focal_px: float | None, framing: Framing) -> tuple[Floats, Floats]:
    """Expected parameters and their spreads; infinite: free."""
    mean, spread = np.zeros(_COUNT), np.full(_COUNT, np.inf)
    spread[8:] = MIDDLE_SPREAD[framing]
    mean[5] = np.log(_DISTANCE_MM)
    if focal_px is None:
        spread[5] = _DISTANCE_LN
    else:
        mean[6], spread[6] = np.log(focal_px), _FOCAL_LN
    spread[7] = 1.0  # set anew by the focal length, in _residuals
    return mean, spread


def _first(
    front: ScannedFront,
    crowns: Mapping[Tooth, PixelCrown],
    shared: Sequence[Tooth],
    size: tuple[int, int],
    prior: tuple[Floats, Floats],
) -> Pose:
    """A first pose from edge points and mid-crowns."""
    points, pixels = [], []
    for tooth in shared:
        frame, crown = front.frames[tooth], crowns[tooth]
        edge = frame.edge + frame.middle * frame.distal
        points += [edge, edge + 3.0 * frame.axis]
        pixels += [crown.edge, crown.edge + (3.0 / front.frames[tooth].width * crown.width) * crown.axis]
    at, seen = np.array(points), np.array(pixels)
    origin = at.mean(axis=0)
    scale = float(np.ptp(seen[:, 0]) / np.ptp(at[:, 0]))
    distance = float(np.exp(prior[0][5])) if not prior[0][6] else float(np.exp(prior[0][6])) / scale
    start = np.zeros(_COUNT)
    start[5], start[6] = np.log(distance), np.log(scale * distance)
    middle = (seen.mean(axis=0) - (np.array(size) - 1) / 2) / (scale * distance)
    start[3:5] = middle - (_FRONTAL[:2] @ origin) / distance
    free = np.array([0, 1, 2, 3, 4, 5])

    def residuals(p: Floats) -> Floats:
        full = start.copy()
        full[free] = p
        shown = Pose(full, np.eye(_COUNT), size).project(at)
        return np.concatenate([(shown - seen).ravel() / scale, p[:3] / 0.2])

    full = start.copy()
    full[free] = least_squares(residuals, start[free], method="lm").x
    return Pose(full, np.eye(_COUNT), size)


def _marked(crown: PixelCrown, margins: bool) -> tuple[Floats, Floats]:
    """Points of an outline and their unit normals; without margins what lies coronal to the papilla tips."""
    outline = np.asarray(crown.outline)
    ahead = np.roll(outline, -4, axis=0) - np.roll(outline, 4, axis=0)
    normal = np.stack([ahead[:, 1], -ahead[:, 0]], axis=1)
    normal /= np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-9)
    if not margins:
        level = (outline - crown.edge) @ crown.axis
        across = (outline - (crown.sides[0] + crown.sides[1]) / 2) @ crown.distal
        tips = {s.value: crown.level(p) for s, p in crown.tips.items()}
        top = np.where(across < 0, tips.get("mesial", 0.5 * crown.length), tips.get("distal", 0.5 * crown.length))
        kept = level < top - 0.04 * crown.length
        outline, normal = outline[kept], normal[kept]
    step = max(len(outline) // _PER_TOOTH, 1)
    return outline[::step], normal[::step]


Pairs = tuple[Floats, Floats, Floats, float]
"""Points in space (N, 3), marked pixels (N, 2), normals (N, 2), and how many errors independent of each other they hold."""


def _paired(
    borders: Mapping[Tooth, Border], marked: Mapping[Tooth, tuple[Floats, Floats]], pose: Pose, reach_mm: float
) -> Pairs:
    points, pixels, normals, independent = [], [], [], 0.0
    per_mm = pose.focal_px / pose.distance_mm
    for tooth, (seen, normal) in marked.items():
        border = borders.get(tooth)
        if border is None:
            continue
        apart, k = cKDTree(border.pixels).query(seen)
        near = apart < reach_mm * per_mm
        points.append(border.points[k[near]])
        pixels.append(seen[near])
        normals.append(normal[near])
        along = np.linalg.norm(np.diff(seen, axis=0), axis=1)
        independent += float(np.minimum(along, 3 * np.median(along)).sum()) / per_mm / _SAME_AS_MM
    return np.concatenate(points), np.concatenate(pixels), np.concatenate(normals), independent


def _solved(pose: Pose, pairs: Pairs, mark_se: float, prior: tuple[Floats, Floats]) -> Pose:
    points, pixels, normals, independent = pairs
    mean, spread = prior
    held = np.isfinite(spread)
    corner = np.hypot(*pose.size) / 2
    share = np.sqrt(min(independent / len(points), 1.0))
    form = _FORM_MM * pose.focal_px / pose.distance_mm

    def residuals(p: Floats) -> Floats:
        across = ((Pose(p, pose.covariance, pose.size).project(points) - pixels) * normals).sum(axis=1)
        beside = (p - mean)[held] / spread[held]
        beside[-3] = p[7] * (corner / np.exp(p[6])) ** 2 / _BENT_AT_CORNER
        z = across / np.hypot(mark_se, form)
        soft = np.sign(z) * np.sqrt(2 * 4 * (np.sqrt(1 + z**2 / 4) - 1))  # far points count less
        return np.concatenate([share * soft, beside])

    found = least_squares(
        residuals,
        pose.parameters,
        method="lm",
        x_scale=np.array([0.01] * 3 + [0.001] * 2 + [0.1, 0.1, 1.0, 0.01, 0.01]),
    )
    at = replace(pose, parameters=found.x)
    across = ((at.project(points) - pixels) * normals).sum(axis=1)
    count = held.sum()
    misfit = float((found.fun[:-count] ** 2).sum()) / max(independent - 6, 1)
    covariance = np.linalg.inv(found.jac.T @ found.jac) * max(1.0, misfit)
    return replace(at, covariance=covariance, residual_px=float(np.sqrt((across**2).mean())))
