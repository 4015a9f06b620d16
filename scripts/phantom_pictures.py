"""Draw the pictures of docs/phantom.md. They are looked at before they are committed.

python scripts/phantom_pictures.py [FOLDER]
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
from PIL import Image

from festoon.model.dentition import Tooth
from festoon.phantom.arch import build_arch
from festoon.phantom.camera import Camera, looking
from festoon.phantom.colours import Palette
from festoon.phantom.mouth import Wishes, draw_mouth
from festoon.phantom.photo import GINGIVA, TOOTH, Scene, build_scene, photograph, scene_of
from festoon.phantom.scan import ScanSettings, make_scan
from festoon.phantom.solids import build_solids, mesh_in_arch_frame
from festoon.phantom.tissues import Tissues, build_tissues
from festoon.phantom.truth import Truth
from festoon.phantom.volume import Label, label_points

SEED = 3
LABEL_COLOURS = {
    Label.AIR: (250, 250, 250),
    Label.ENAMEL: (222, 228, 236),
    Label.DENTINE: (226, 205, 150),
    Label.PULP: (190, 70, 70),
    Label.LIGAMENT: (110, 50, 120),
    Label.BONE: (168, 160, 140),
    Label.GINGIVA: (230, 150, 150),
}


def camera(yaw: float, pitch: float, target: tuple[float, float, float], wide: float = 82.0) -> Camera:
    """A camera 450 mm away that shows ``wide`` mm in 640 pixels."""
    place = np.array(target)
    return looking(place, yaw, pitch, 0.0, 450.0, focal_mm=450.0, sensor_mm=wide, width=640, height=400)


def tissues_of(seed: int, wishes: Wishes | None = None, upper: bool = True) -> Tissues:
    """The tissues of a mouth."""
    return build_tissues(build_arch(draw_mouth(seed, upper=upper, wishes=wishes)))


def bone_scene(tissues: Tissues) -> Scene:
    """Teeth and bone without gingiva."""
    solids = build_solids(tissues, 0.25)
    upper = tissues.arch.mouth.upper
    palette = Palette(Truth(tissues))
    bone = mesh_in_arch_frame(solids.bone, upper)
    parts = [(bone, np.tile([0.86, 0.82, 0.72], (len(bone.vertices), 1)), GINGIVA)]
    for tooth in solids.teeth.values():
        colours = palette.of_teeth(tooth.whole.vertices)
        parts.append((mesh_in_arch_frame(tooth.whole, upper), colours, TOOTH))
    return scene_of(parts)


def section(tissues: Tissues) -> Image.Image:
    """A facial section through the upper left central and a horizontal one at the height of the crests."""
    edge = tissues.arch.of(Tooth("21")).frame.edge
    y, h = np.arange(-8, 16, 0.06), np.arange(-1, 25, 0.06)
    points = np.stack(np.meshgrid([edge[0] + 0.3], y, h, indexing="ij"), -1).reshape(-1, 3)
    tall = _coloured(label_points(tissues, points), (len(y), len(h)))[::-1]
    x, y2 = np.arange(-34, 34, 0.11), np.arange(-8, 40, 0.11)
    points = np.stack(np.meshgrid(x, y2, [tissues.line + 2.4], indexing="ij"), -1).reshape(-1, 3)
    flat = _coloured(label_points(tissues, points), (len(x), len(y2)))
    out = Image.new("RGB", (tall.shape[1] + flat.shape[1] + 20, max(tall.shape[0], flat.shape[0])), (250, 250, 250))
    out.paste(Image.fromarray(tall), (0, 0))
    out.paste(Image.fromarray(flat), (tall.shape[1] + 20, 0))
    return out


def _coloured(labels: np.ndarray, shape: tuple[int, int]) -> np.ndarray:
    table = np.array([LABEL_COLOURS[label] for label in Label], dtype=np.uint8)
    return table[labels.astype(int).reshape(shape)].transpose(1, 0, 2)


def main(folder: Path) -> None:
    """Write the pictures."""
    folder.mkdir(parents=True, exist_ok=True)

    def save(name: str, picture: np.ndarray | Image.Image) -> None:
        image = picture if isinstance(picture, Image.Image) else Image.fromarray(picture)
        image.thumbnail((640, 640))
        image.save(folder / f"{name}.jpg", quality=80, optimize=True)
        print(f"{name}.jpg: {(folder / f'{name}.jpg').stat().st_size / 1000:.0f} kB")

    tissues = tissues_of(SEED)
    palette = Palette(Truth(tissues))
    save("photo", photograph(build_scene(tissues, palette), camera(0, 0, (0, 4, 6))))
    bare = build_scene(tissues, palette, retracted=False)
    save("front", photograph(bare, camera(0, 0, (0, 4, 8), 70)))
    save("side", photograph(bare, camera(48, 0, (8, 14, 8), 70)))
    save("below", photograph(bare, camera(0, -80, (0, 20, 6), 96)))
    save("bone", photograph(bone_scene(tissues), camera(0, 0, (0, 4, 8), 70)))
    save("section", section(tissues))
    scan = make_scan(tissues, palette, ScanSettings(posed=False), SEED)
    scene = scene_of([(scan.mesh, scan.colours / 255, GINGIVA)])
    save("scan", photograph(scene, camera(12, -8, (0, 8, 6), 78)))
    wished = Wishes(worn_mm=1.2, diastema_mm=1.2, rotated=(("12", 20.0),), missing=("24",), crowned=("22",))
    changed = tissues_of(SEED, wished)
    save("wishes", photograph(build_scene(changed, Palette(Truth(changed)), False), camera(0, 0, (0, 4, 7), 70)))
    lower = tissues_of(SEED, upper=False)
    save("lower", photograph(build_scene(lower, Palette(Truth(lower)), False), camera(0, 22, (0, 6, -7), 70)))


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parents[1] / "docs" / "phantom")
