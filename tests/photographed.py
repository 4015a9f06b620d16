"""A real photograph with its drawn outlines as marks, and the same person's crowns in mm. Made when a test runs, never shipped.

Data: photos-and-crowns-a (MIT; github SJTUzhou/3D-Teeth-Reconstruction-from-Five-Intra-oral-Images). The source calls the outlines thin and
not highly accurate; crowns are cut near the gingival margin, so that their rim only approximates it.
"""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

import numpy as np
import trimesh
from PIL import Image
from scipy import ndimage
from skimage.measure import find_contours

from festoon.kernels.tooth_frame import ToothFrame
from festoon.model.dentition import Tooth
from festoon.photo.pose import ScannedFront
from real_mouths import FRONT, crowns_a

_INSIDE = {"13": (374, 503), "12": (514, 512), "11": (690, 531), "21": (889, 530), "22": (1055, 503), "23": (1164, 489)}
"""A pixel inside each drawn outline."""
_FACIAL = {"13": -50, "12": -30, "11": -4, "21": 4, "22": 30, "23": 50}
"""From where each facial direction is sought, degrees."""


def drawn_marks(shared_data: Path) -> str:
    """The drawn outlines of 13 to 23 as a mark file; half of the drawn line belongs to each tooth."""
    folder = shared_data / "photos-and-crowns-a"
    line = np.asarray(Image.open(folder / "label" / "0-4.png").convert("L")) > 40
    parts, _ = ndimage.label(~line)
    teeth = {}
    for code, (x, y) in _INSIDE.items():
        mask = ndimage.binary_fill_holes(ndimage.binary_dilation(parts == parts[y, x], iterations=2))
        ring = max(find_contours(mask.astype(float), 0.5), key=len)[:, ::-1]
        teeth[code] = {"outline": [[round(float(a), 2), round(float(b), 2)] for a, b in ring[::3]]}
    data = (folder / "photo" / "0-4.png").read_bytes()
    photo = {"sha256": hashlib.sha256(data).hexdigest(), "width_px": line.shape[1], "height_px": line.shape[0]}
    return json.dumps({"format": "festoon-marks/1", "photo": photo, "teeth": teeth})


def real_front(shared_data: Path) -> ScannedFront:
    """The six crowns in a frame with x to the patient's left, y posterior, z apical, by the definitions of the readings."""
    meshes = crowns_a(shared_data)
    vertices, faces, tooth_of_face, frames, count = [], [], [], {}, 0
    for code in FRONT:
        mesh = meshes[code]
        vertices.append(np.asarray(mesh.vertices))
        faces.append(np.asarray(mesh.faces) + count)
        tooth_of_face.append(np.full(len(mesh.faces), int(code)))
        frames[Tooth(code)] = _frame(mesh, code)
        count += len(mesh.vertices)
    return ScannedFront(np.concatenate(vertices), np.concatenate(faces), np.concatenate(tooth_of_face), frames)


def lengths(front: ScannedFront) -> dict[str, float]:
    """Level of the most apical point of the facial half of each crown's rim, mm."""
    out = {}
    for tooth, frame in front.frames.items():
        at = frame.coordinates(front.crown(tooth))
        facial = at[:, 1] > np.median(at[:, 1])
        out[tooth.fdi] = float(at[facial, 2].max())
    return out


def _frame(mesh: trimesh.Trimesh, code: str) -> ToothFrame:
    up = np.array([0.0, 0.0, 1.0])
    angle = np.radians(_FACIAL[code])
    facial = np.array([np.sin(angle), -np.cos(angle), 0.0])
    middle, normal, area = np.asarray(mesh.triangles_center), np.asarray(mesh.face_normals), mesh.area_faces
    for _ in range(3):
        across = middle @ np.cross(facial, up)
        level = middle[:, 2]
        half = (np.abs(across - (across.min() + across.max()) / 2) < np.ptp(across) / 4) & (normal @ facial > 0.3)
        half &= np.abs(level - (level.min() + level.max()) / 2) < np.ptp(level) / 4
        mean = (normal[half] * area[half, None]).sum(axis=0) * [1, 1, 0]
        facial = mean / np.linalg.norm(mean)
    distal = np.cross(facial, up)
    distal = distal if (distal[0] < 0) == (code[0] == "1") else -distal
    points = np.asarray(mesh.vertices)
    across, outward, level = points @ distal, points @ facial, points[:, 2]
    mid, low, high = (across.min() + across.max()) / 2, level.min(), np.ptp(level)
    at = low + high * np.linspace(0.3, 0.7, 9)
    bands = [np.abs(level - a) < 0.3 for a in at]
    front = [across[b & (outward > np.median(outward))] for b in bands]
    tilt = np.polyfit(at, [(b.min() + b.max()) / 2 for b in front], 1)[0]
    fifths = low + high * np.linspace(0.2, 0.8, 9)
    profile = [outward[(np.abs(level - a) < 0.3) & (np.abs(across - mid) < 0.6)].max() for a in fifths]
    lean = np.polyfit(fifths, profile, 1)[0]
    axis = up + tilt * distal + lean * facial
    axis /= np.linalg.norm(axis)
    facial = facial - (facial @ axis) * axis
    facial /= np.linalg.norm(facial)
    distal = np.cross(facial, axis) * np.sign(np.cross(facial, axis) @ distal)
    across, level = points @ distal, points @ axis
    mid = (across.min() + across.max()) / 2
    near = np.abs(across - mid) < 0.3 if code[1] in "12" else level < np.inf
    edge = points[near][np.argmin(level[near])]
    return ToothFrame(edge, axis, facial, distal, float(mid - edge @ distal), float(np.ptp(across)))


def chain_marks(
    widths: dict[str, float], per_mm: float, yaw_deg: float = 0.0, length: float = 10.0
) -> dict[str, object]:
    """Marks of a row of teeth, each a half ellipse in plan, turned away as usual (3, 30, 55 degrees) and seen from afar.

    What is seen of each is found by looking from before, point by point, and not by a formula.

    Parameters
    ----------
    widths : mapping of ISO 3950 code to mm
        As seen from the patient's right to the left.
    per_mm : float
        Pixels of a millimetre.
    yaw_deg : float
        Of the camera, positive from the patient's left.
    length : float
        Of every crown, mm.
    """
    turn = {"1": 3.0, "2": 30.0, "3": 55.0}
    plans = {}
    for side, sign in (("1", -1.0), ("2", 1.0)):
        at = np.zeros(2)
        for code in sorted(c for c in widths if c[0] == side):
            phi = np.radians(turn[code[1]])
            along, out = np.array([sign * np.cos(phi), np.sin(phi)]), np.array([sign * np.sin(phi), -np.cos(phi)])
            t = np.linspace(0, np.pi, 4000)[:, None]
            bulge = (0.36 if code[1] == "3" else 0.22) * widths[code]
            middle = at + widths[code] / 2 * along
            plans[code] = middle + widths[code] / 2 * np.cos(t) * along + bulge * np.sin(t) * out
            at = at + widths[code] * along
    yaw = np.radians(yaw_deg)
    turned = {
        c: np.stack([p @ [np.cos(yaw), np.sin(yaw)], p @ [-np.sin(yaw), np.cos(yaw)]], axis=1) for c, p in plans.items()
    }
    columns = np.arange(-26, 26, 0.01)
    depth = np.array([[_nearest(p, columns)] for p in turned.values()])[:, 0]
    first = np.where(np.isfinite(depth).any(axis=0), depth.argmin(axis=0), -1)
    teeth = {}
    for k, code in enumerate(turned):
        low, high = (460 + per_mm * v for v in (columns[first == k].min(), columns[first == k].max()))
        t = np.linspace(0, np.pi, 60)
        arch = np.stack([(low + high) / 2 + (high - low) / 2 * np.cos(t), 260 - 60 * np.sin(t)], axis=1)
        teeth[code] = {"outline": [*arch.tolist(), [low, 200 + length * per_mm], [high, 200 + length * per_mm]]}
    photo = {"sha256": "a" * 64, "width_px": 920, "height_px": 600}
    return {"format": "festoon-marks/1", "photo": photo, "teeth": teeth, "mark_se_px": 1.0}


def _nearest(plan: np.ndarray, columns: np.ndarray) -> np.ndarray:
    """Depth of the nearest point of a plan over each column; infinite where there is none."""
    out = np.full(len(columns), np.inf)
    k = np.round((plan[:, 0] - columns[0]) / 0.01).astype(int)
    np.minimum.at(out, k, plan[:, 1])
    return out
