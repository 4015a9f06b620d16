"""Pictures of the app for README and docs, made with the system's Chromium: ``python scripts/app_pictures.py``."""

from __future__ import annotations

import shutil
import sys
import tempfile
from pathlib import Path

from playwright.sync_api import sync_playwright

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT / "tests"))
from desks import served  # noqa: E402  its folder is named first

WHERE = ROOT / "docs" / "app"


def main() -> None:
    """Open the demo case and photograph its design."""
    WHERE.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder, served(Path(folder)) as address, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=["--no-sandbox"])
        page = browser.new_page(viewport={"width": 1280, "height": 800})
        page.goto(address)
        page.get_by_role("button", name="demo cases").click()
        page.wait_for_url("**/plan")
        page.goto(address.split("/enter")[0] + "/cases/linden-04/design")
        page.locator('[data-handle="length-11"]').focus()
        page.screenshot(path=WHERE / "design.png")
        browser.close()


if __name__ == "__main__":
    main()
