"""How near the readings of photographs are to the truth of phantoms, and how often their 95 % intervals hold it.

    python benchmarks/photo.py [FIRST_SEED] [COUNT] [CAMERAS]

Six or eight upper teeth in turn; each front tooth rotated by 5 degrees (spread; at most 12), every third mouth worn by 0.8 mm. Each mouth is seen by several cameras: yaw and pitch with a spread of 5 and 7 degrees, roll 2, 180 to 450 mm away, with
radial distortion (spread 2 % at the corner). Outlines are what each camera sees of each tooth, with marks that wander smoothly by 1.2 pixels. Known widths are
the true ones with an error of 0.05 mm. Five ways: nothing known, 11 alone, all six widths, a printed square of 10 mm held to 1.5 mm in the plane of the centrals
(corners to 0.3 %), and the scan (20 to 50 um of noise, traced by festoon; its tissue is the photograph's, so margins help to find the pose).
Photographs that the command would refuse are counted and left out. Some 15 s a mouth and 5 s a camera.
"""

from __future__ import annotations

import sys
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass

import igl
import numpy as np
from scipy.ndimage import gaussian_filter1d, label
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components
from skimage.measure import find_contours

from festoon.model.dentition import Tooth
from festoon.model.quantities import Quantity, QuantityReading
from festoon.phantom.arch import build_arch
from festoon.phantom.camera import Camera, looking
from festoon.phantom.colours import Palette
from festoon.phantom.mouth import Wishes, draw_mouth
from festoon.phantom.photo import TOOTH, Scene, build_scene
from festoon.phantom.scan import ScanSettings, make_scan
from festoon.phantom.tissues import build_tissues
from festoon.phantom.truth import Truth
from festoon.photo.arch import KnownWidth, arch_scale
from festoon.photo.crown import crowns_of
from festoon.photo.marks import Marks
from festoon.photo.pose import ScannedFront, solve_pose
from festoon.photo.posed import readings_with_pose
from festoon.photo.quantities import readings_without_scan
from festoon.photo.scale import KnownLength
from festoon.scan.doubts import doubts_of
from festoon.scan.raw import RawMesh
from festoon.scan.surface import clean
from festoon.scan.trace import trace_scan
from festoon.workflow.measuring_photo import MISFIT_MM, scanned_front, with_doubts_of

FRONT = ("13", "12", "11", "21", "22", "23")
WIDTH, HEIGHT, MARK_SE = 1200, 800, 1.2
KNOWN_SE = 0.05
SQUARE = 10.0
Row = tuple[str, str, float, float]
"""Way, quantity and site, error, standard error."""


@dataclass(frozen=True)
class Sitter:
    """A phantom before the camera."""

    seed: int
    truth: dict[tuple[str | None, Quantity, object], float]
    scene: Scene
    tooth_of_face: np.ndarray
    front: ScannedFront
    doubts: dict[Tooth, tuple[tuple[str, ...], tuple[str, ...]]]
    """About each scanned tooth: about everything, about its sides."""


def wishes_of(seed: int) -> Wishes:
    """Teeth that stand as teeth do: a little rotated, some worn."""
    rng = np.random.default_rng([seed, 77])
    turned = tuple((code, float(np.clip(5 * rng.standard_normal(), -12, 12))) for code in FRONT)
    return Wishes(rotated=turned, worn_mm=float(rng.choice([0.0, 0.0, 0.8])))


def sitter(seed: int) -> Sitter:
    """Build one phantom, its scene and its traced scan."""
    tissues = build_tissues(build_arch(draw_mouth(seed, per_side=(3, 4)[seed % 2], wishes=wishes_of(seed))))
    truth = Truth(tissues)
    palette = Palette(truth)
    scene = build_scene(tissues, palette)
    made = make_scan(tissues, palette, ScanSettings(noise=(0.03, 0.05, 0.02)[seed % 3]), seed)
    raw = RawMesh(made.mesh.vertices, made.mesh.faces, made.colours / 255.0)
    traced = trace_scan(clean(raw, f"phantom {seed}", "mm"), "upper")
    doubts = {
        tooth: (about.all, about.sides) for tooth, one in traced.teeth.items() for about in [doubts_of(traced, one)]
    }
    order = [int(collar.placed.tooth.fdi) for collar in tissues.collars]
    return Sitter(
        seed,
        {(r.tooth, r.quantity, r.site): r.value for r in truth.readings},
        scene,
        teeth_of_faces(scene, order),
        scanned_front(traced),
        doubts,
    )


def teeth_of_faces(scene: Scene, order: list[int]) -> np.ndarray:
    """Tooth by face of a scene, 0 elsewhere: its teeth are bodies of their own, one after the other."""
    mine = np.flatnonzero(scene.material == TOOTH)
    a, b, c = scene.mesh.faces[mine].T
    n = len(scene.mesh.vertices)
    joined = coo_matrix((np.ones(2 * len(mine)), (np.r_[a, a], np.r_[b, c])), shape=(n, n))
    _, body = connected_components(joined, directed=False)
    bodies = list(dict.fromkeys(body[a].tolist()))
    if len(bodies) != len(order):
        raise ValueError(f"{len(bodies)} bodies of teeth in the scene; expected {len(order)}")
    out = np.zeros(len(scene.mesh.faces), dtype=np.int64)
    out[mine] = np.array(order)[np.searchsorted(np.sort(bodies), body[a])]
    return out


def a_camera(rng: np.random.Generator) -> Camera:
    """A camera of one of many practices."""
    distance = float(rng.uniform(180, 450))
    focal_mm = 22.3 / 62.0 * distance  # some 62 mm of the mouth fill the picture
    focal_px = focal_mm / 22.3 * WIDTH
    corner = np.hypot(WIDTH, HEIGHT) / 2 / focal_px
    yaw, pitch, roll = rng.standard_normal(3) * (5.0, 7.0, 2.0)
    return looking(
        np.array([0.0, 4.0, 5.0]),
        float(yaw),
        float(pitch),
        float(roll),
        distance,
        focal_mm=focal_mm,
        sensor_mm=22.3,
        width=WIDTH,
        height=HEIGHT,
        k1=float(0.02 * rng.standard_normal() / corner**2),
    )


def seen(scene: Scene, tooth_of_face: np.ndarray, camera: Camera) -> dict[str, np.ndarray]:
    """What a camera sees of each front tooth: outlines in pixels."""
    rays = camera.rays()
    tree: igl.AABB = scene.tree
    face, _, _ = tree.intersect_ray_first(
        scene.mesh.vertices, scene.mesh.faces, np.ascontiguousarray(np.broadcast_to(camera.position, rays.shape)), rays
    )
    teeth = np.where(np.asarray(face) >= 0, tooth_of_face[np.maximum(face, 0)], 0).reshape(camera.height, camera.width)
    out = {}
    for code in FRONT:
        parts, _ = label(teeth == int(code))
        sizes = np.bincount(parts.ravel())[1:]
        if len(sizes) and sizes.max() > 500:
            mask = np.pad(parts == 1 + int(sizes.argmax()), 1)
            out[code] = max(find_contours(mask.astype(float), 0.5), key=len)[:, ::-1] - 1
    return out


def wandering(outline: np.ndarray, rng: np.random.Generator, se: float = MARK_SE) -> np.ndarray:
    """The outline as a hand draws it: off by ``se`` pixels, alike over some 25 pixels."""
    shift = gaussian_filter1d(rng.standard_normal(outline.shape), 12, axis=0, mode="wrap")
    return (outline + se * shift / shift.std())[:: max(len(outline) // 250, 1)]


def marks_of(outlines: dict[str, np.ndarray]) -> Marks:
    """The mark file of outlines."""
    return Marks.model_validate(
        {
            "photo": {"sha256": "0" * 64, "width_px": WIDTH, "height_px": HEIGHT},
            "mark_se_px": MARK_SE,
            "teeth": {
                code: {"outline": np.clip(line, 0, (WIDTH - 1, HEIGHT - 1)).tolist()} for code, line in outlines.items()
            },
        }
    )


def rows(first: int, count: int, cameras: int) -> Iterator[Row]:
    """Every reading of every photograph that has a true value."""
    for seed in range(first, first + count):
        one = sitter(seed)
        rng = np.random.default_rng([seed, 8])
        for _ in range(cameras):
            camera = a_camera(rng)
            outlines = seen(one.scene, one.tooth_of_face, camera)
            marks = marks_of({code: wandering(line, rng) for code, line in outlines.items()})
            for way, readings in measured(one, marks, camera, rng).items():
                for r in readings:
                    true = _true(one, r)
                    if true is not None and r.se is not None:
                        site = f" {r.site.value}" if r.site else ""
                        group = {"1": "central", "2": "lateral", "3": "canine"}[str(r.tooth)[1]]
                        yield way, f"{r.quantity.value}{site} {group}", r.value - true, r.se


def measured(
    one: Sitter, marks: Marks, camera: Camera, rng: np.random.Generator
) -> dict[str, tuple[QuantityReading, ...]]:
    """Readings of one photograph in five ways."""
    crowns = crowns_of(marks)
    known = [
        KnownWidth(
            Tooth(c), one.truth[c, Quantity.CROWN_WIDTH, None] + KNOWN_SE * float(rng.standard_normal()), KNOWN_SE
        )
        for c in marks.teeth
    ]
    alone = [k for k in known if k.tooth.fdi == "11"]
    away = float(np.linalg.norm(camera.position - np.array([0.0, -1.0, 4.0]))) + 1.5 * float(rng.standard_normal())
    px = camera.focal_px / away * (SQUARE + KNOWN_SE * float(rng.standard_normal()))
    square = KnownLength("marker", SQUARE, KNOWN_SE, px, 0.003 * px)
    out = {
        "none": readings_without_scan(crowns, marks, None),
        "11": readings_without_scan(crowns, marks, arch_scale(crowns, alone, (), marks.mark_se)),
        "six": readings_without_scan(crowns, marks, arch_scale(crowns, known, (), marks.mark_se)),
    }
    out["marker"] = readings_without_scan(crowns, marks, arch_scale(crowns, (), (square,), marks.mark_se))
    pose = solve_pose(one.front, crowns, (WIDTH, HEIGHT), marks.mark_se, margins=True)
    if pose is not None and pose.residual_px * pose.distance_mm / pose.focal_px <= MISFIT_MM:
        out["scan"] = with_doubts_of(readings_with_pose(one.front, crowns, marks, pose), one.doubts)
    else:
        print(f"seed {one.seed}: a photograph does not fit the scan and would be refused")
    return out


def _true(one: Sitter, r: QuantityReading) -> float | None:
    if r.quantity is Quantity.CROWN_RATIO:
        return one.truth[r.tooth, Quantity.CROWN_WIDTH, None] / one.truth[r.tooth, Quantity.CROWN_LENGTH, None]
    return one.truth.get((r.tooth, r.quantity, r.site))


def main(first: int = 1, count: int = 4, cameras: int = 3) -> None:
    """Print the table."""
    table: defaultdict[tuple[str, str], list[tuple[float, float]]] = defaultdict(list)
    for way, name, error, se in rows(first, count, cameras):
        table[way, name].append((error, se))
        table[way, "all"].append((error, se))
    print(f"{'known':6}{'quantity':34}{'n':>5}{'bias':>8}{'rms':>8}{'se':>8}{'held %':>8}")
    for (way, name), found in sorted(table.items()):
        error, se = np.array(found).T
        held = 100 * float((np.abs(error) <= 1.96 * se).mean())
        bias, rms, usual = error.mean(), np.sqrt((error**2).mean()), np.sqrt((se**2).mean())
        print(f"{way:6}{name:34}{len(error):5d}{bias:8.3f}{rms:8.3f}{usual:8.3f}{held:8.1f}")


if __name__ == "__main__":
    main(*(int(text) for text in sys.argv[1:]))
