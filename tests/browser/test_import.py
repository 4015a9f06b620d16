"""A table brought in by keys alone: pasted, looked at, kept; nothing is kept before, and the preview has no fault of accessibility."""

from __future__ import annotations

from collections.abc import Iterator
from importlib.resources import files

import pytest
from playwright.sync_api import Browser, Page

from desks import served

pytestmark = pytest.mark.slow
AXE = files("axe_playwright_python") / "axe.min.js"
TABLE = "tooth\tsite\tmargin level\tsounding\n11\tmidfacial\t8,1\t2,3\n11\tmesial\t4,4\t\n21\tmidfacial\t8,3\t\n"


@pytest.fixture
def page(browser: Browser, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Page]:
    """The first page of an app without cases; at the end nothing was said in the console and no page of another place was asked for."""
    said: list[str] = []
    with served(tmp_path_factory.mktemp("home")) as address:
        opened = browser.new_page(viewport={"width": 1024, "height": 768})
        home = address.split("/enter")[0]
        opened.on("console", lambda message: said.append(message.text))
        opened.on("pageerror", lambda error: said.append(str(error)))
        opened.on("request", lambda asked: None if asked.url.startswith(home) else said.append(asked.url))
        opened.goto(address)
        opened.wait_for_url(f"{home}/")
        yield opened
        opened.close()
    assert said == []


def test_a_block_is_pasted_looked_at_and_kept_by_keys_alone(page: Page) -> None:
    """From the field of the cells: Tab, keys and Enter; the preview takes the focus, and the chart of the new case opens."""
    page.locator("textarea[name=text]").focus()
    page.keyboard.insert_text(TABLE)
    page.keyboard.press("Tab")
    page.keyboard.type("by-keys-1")
    page.keyboard.press("Tab")
    page.keyboard.type("F")
    page.keyboard.press("Tab")
    page.keyboard.type("pre")
    page.keyboard.press("Tab")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    page.locator(".preview").wait_for()
    assert page.evaluate("document.activeElement.matches('.preview')")
    assert page.evaluate("fetch('/api/cases').then(a => a.json())") == []
    for _ in range(12):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.matches('[data-keep]')"):
            break
    page.keyboard.press("Enter")
    page.wait_for_url("**/cases/by-keys-1/chart")
    assert page.locator('[data-path="teeth.11.sites.midfacial.margin_mm"]').input_value() == "8.1"


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_preview_has_no_fault_of_accessibility(page: Page, scheme: str) -> None:
    """axe-core on a preview with readings and with a refusal, at 390 px too; the page is not wider than its window."""
    page.emulate_media(color_scheme=scheme)
    page.fill("textarea[name=text]", TABLE)
    page.fill("bring-in input[name=case]", "looked-at-1")
    for datum in ("present_edge", ""):
        page.select_option("bring-in select[name=notation]", "fdi")
        page.select_option("bring-in select[name=datum]", datum)
        page.get_by_role("button", name="Preview", exact=True).click()
        page.locator(".preview").wait_for()
        page.evaluate(AXE.read_text("utf-8"))
        found = page.evaluate(
            "async () => (await axe.run(document, {runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa']}))"
            ".violations.map(v => v.id + ': ' + v.nodes.slice(0, 3).map(n => n.html.slice(0, 160)).join(' | '))"
        )
        assert found == []
    page.set_viewport_size({"width": 390, "height": 800})
    assert page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth + 1")


def test_what_changes_is_looked_at_again_by_itself(page: Page) -> None:
    """What is kept is what was looked at: until the new look is there nothing can be kept, and the keyboard stays where it is."""
    page.fill("textarea[name=text]", TABLE)
    page.fill("bring-in input[name=case]", "looked-at-2")
    page.select_option("bring-in select[name=notation]", "fdi")
    page.select_option("bring-in select[name=datum]", "present_edge")
    page.get_by_role("button", name="Preview", exact=True).click()
    page.locator("[data-keep]").wait_for()
    page.fill("bring-in input[name=case]", "looked-at-3")
    assert page.locator("[data-keep]").is_disabled()
    page.get_by_role("heading", name="looked-at-3").wait_for()
    assert page.locator("[data-keep]").is_enabled()
    ticks = page.locator(".preview input[type=checkbox]")
    ticks.nth(1).focus()
    page.keyboard.press("Space")
    page.get_by_text("1 left out", exact=True).wait_for()
    assert page.locator("[data-keep]").is_enabled()
    assert page.evaluate("document.activeElement.dataset.line") == ticks.nth(1).get_attribute("data-line")
    assert "1 left out" in (page.locator("[data-heard]").text_content() or "")
    page.locator("[data-keep]").click()
    page.wait_for_url("**/cases/looked-at-3/chart")
    kept = [
        page.locator(f'[data-path="teeth.11.sites.{site}.margin_mm"]').input_value() for site in ("midfacial", "mesial")
    ]
    assert kept == ["8.1", ""]


def test_what_is_no_number_is_refused_and_never_sent_as_not_measured(page: Page) -> None:
    """JSON would write null for it, and null takes a reading away; nothing is asked of the app then."""
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url) if "/api/" in request.url else None)
    told = page.evaluate(
        "import('/look/api.js').then(({ask}) => ask('POST', '/api/cases', {width_mm: Number('8,x')})).then(() => 'sent', (e) => e.wrong.text)"
    )
    assert told.startswith("width_mm")
    assert asked == []
