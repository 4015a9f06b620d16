"""Pictures of the app for README and docs, made with the system's Chromium: ``python scripts/app_pictures.py``.

Writes those that the docs show into ``docs/app`` and the moving one, chart to design to plan, as ``docs/app/tour.gif``.
``--all FOLDER`` writes every main page, light and dark, on desk, tablet and phone, into a folder of its own: to be looked at, not kept.
"""

from __future__ import annotations

import argparse
import io
import shutil
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

from PIL import Image
from playwright.sync_api import Browser, Page, sync_playwright

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT / "tests"))
from desks import served  # noqa: E402  its folder is named first

WHERE = ROOT / "docs" / "app"
CASE = "linden-04"
SIZES = {"desk": (1440, 900), "tablet": (1024, 768), "phone": (390, 844)}
PAGES = {"cases": "/"} | {
    way: f"/cases/{CASE}/{way}" for way in ("chart", "design", "plan", "scan", "template", "surgery", "recall", "print")
}
SHOWN = {
    "cases.png": ("cases", "desk", "light"),
    "chart.png": ("chart", "desk", "light"),
    "design.png": ("design", "desk", "light"),
    "design-dark.png": ("design", "desk", "dark"),
    "plan.png": ("plan", "desk", "light"),
    "plan-phone.png": ("plan", "phone", "light"),
}
"""What the docs show: page, size, light."""
_TOUR = (1080, 760)
_COLOURS = 160


def main(everything: Path | None) -> None:
    """Make the pictures."""
    WHERE.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder, served(Path(folder)) as address, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=["--no-sandbox"])
        base = address.split("/enter")[0]
        page = _window(browser, address, "desk", "light")
        page.get_by_role("button", name="demo cases").click()
        page.wait_for_url("**/plan")
        page.context.close()
        if everything is not None:
            everything.mkdir(parents=True, exist_ok=True)
            for size in SIZES:
                for light in ("light", "dark"):
                    page = _window(browser, address, size, light)
                    for name in PAGES:
                        _picture(page, base, name, everything / f"{name}-{size}-{light}.png")
                    page.context.close()
        else:
            for file, (name, size, light) in SHOWN.items():
                page = _window(browser, address, size, light)
                _picture(page, base, name, WHERE / file)
                page.context.close()
            page = browser.new_page(viewport={"width": _TOUR[0], "height": _TOUR[1]})
            page.goto(address)
            page.wait_for_url(f"{base}/")
            _write_tour(list(_tour(page, base)))
        browser.close()


def _window(browser: Browser, address: str, size: str, light: str) -> Page:
    width, height = SIZES[size]
    context = browser.new_context(
        viewport={"width": width, "height": height},
        color_scheme="dark" if light == "dark" else "light",
        has_touch=size != "desk",
    )
    page = context.new_page()
    page.set_default_timeout(120_000)  # a busy computer is slow, and a picture is worth the wait
    page.goto(address)
    page.wait_for_url(f"{address.split('/enter')[0]}/")
    return page


def _picture(page: Page, base: str, name: str, place: Path) -> None:
    page.goto(base + PAGES[name])
    page.wait_for_load_state("networkidle")
    if name == "design":
        page.locator('[data-handle="length-11"]').focus()
        page.evaluate("scrollTo(0, 0)")
    if name == "chart":
        page.evaluate("document.querySelector('chart-entry').scrollIntoView()")
    Image.open(io.BytesIO(page.screenshot())).quantize(256).save(place, optimize=True)


def _tour(page: Page, base: str) -> Iterator[tuple[bytes, int]]:
    """Frames of the moving picture, each with the milliseconds it stays: a number typed, a length dragged, the plan that comes of it."""
    page.set_default_timeout(120_000)
    page.goto(f"{base}/cases/{CASE}/chart")
    page.locator("chart-entry").scroll_into_view_if_needed()
    page.evaluate("document.querySelector('chart-entry').scrollIntoView()")
    field = page.locator('[data-path="teeth.11.sites.midfacial.sounding_mm"]')
    field.focus()
    yield page.screenshot(), 1200
    for sign in ("2", "2.", "2.4"):
        field.fill(sign)
        yield page.screenshot(), 350
    with page.expect_response(lambda answer: answer.request.method == "PATCH"):
        page.keyboard.press("Enter")
    page.wait_for_load_state("networkidle")
    yield page.screenshot(), 1400
    page.goto(f"{base}/cases/{CASE}/design")
    handle = page.locator('[data-handle="length-11"]')
    handle.scroll_into_view_if_needed()
    box = handle.bounding_box()
    assert box is not None
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    yield page.screenshot(), 900
    page.mouse.move(x, y)
    page.mouse.down()
    for step in (*range(1, 13), *range(11, 3, -1)):
        page.mouse.move(x, y + 2 * step)
        page.wait_for_timeout(700)  # until the plan of this wish is drawn
        yield page.screenshot(), 160
    with page.expect_response(lambda answer: answer.request.method == "PATCH"):
        page.mouse.up()
    page.wait_for_load_state("networkidle")
    page.wait_for_timeout(1500)
    yield page.screenshot(), 1400
    page.goto(f"{base}/cases/{CASE}/plan")
    yield page.screenshot(), 2600


def _write_tour(frames: list[tuple[bytes, int]]) -> None:
    """One palette for all frames, so that nothing flickers."""
    pictures = [Image.open(io.BytesIO(data)).convert("RGB") for data, _ in frames]
    width, height = (round(side * 0.8) for side in _TOUR)
    small = [picture.resize((width, height), Image.Resampling.LANCZOS) for picture in pictures]
    strip = Image.new("RGB", (width, 3 * height))
    for place, index in enumerate((0, len(small) // 2, len(small) - 1)):
        strip.paste(small[index], (0, place * height))
    palette = strip.quantize(_COLOURS)
    flat = [picture.quantize(palette=palette, dither=Image.Dither.NONE) for picture in small]
    flat[0].save(
        WHERE / "tour.gif", save_all=True, append_images=flat[1:], duration=[time for _, time in frames], loop=0,
        optimize=True,
    )  # fmt: skip


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--all", metavar="FOLDER", type=Path, help="every page, light and dark, desk, tablet and phone")
    main(parser.parse_args().all)
