"""The chairside view in a browser: touched with a finger, typed ahead, cut off, named under another notation."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from desks import served
from festoon.records.demo import demo_case
from festoon.store.opening import open_store
from festoon.workflow.records import keep_case_file, plan_and_keep, sign_kept_plan
from festoon.workflow.surgery import start_surgery

pytestmark = pytest.mark.slow
CASE = "linden-04"


@pytest.fixture(scope="module")
def prepared(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Records with a signed plan; made once."""
    folder = tmp_path_factory.mktemp("chair")
    store = open_store(folder / "home")
    (folder / "case.yaml").write_bytes(demo_case(CASE))
    keep_case_file(store, folder / "case.yaml", None, base=None, by="op-1", why="test")
    plan_and_keep(store, CASE, by="op-1", why="test")
    sign_kept_plan(store, CASE, 1, by="op-1", role="surgeon", reason="agreed")
    return folder / "home"


@pytest.fixture
def chair(browser: Browser, prepared: Path, tmp_path: Path) -> Iterator[Page]:
    """A tablet at the chair, on a surgery of its own."""
    shutil.copytree(prepared, tmp_path / "home")
    start_surgery(open_store(tmp_path / "home"), CASE, 1, by="op-1", why="test")
    with served(tmp_path / "home") as address:
        context = browser.new_context(viewport={"width": 1024, "height": 768}, has_touch=True)
        page = context.new_page()
        page.goto(address)
        page.goto(address.split("/enter")[0] + f"/cases/{CASE}/surgery")
        yield page
        context.close()


def entries(page: Page) -> list[str]:
    """What is on disk, in words."""
    state = page.evaluate(f"fetch('/api/cases/{CASE}/surgeries/1').then((answer) => answer.json())")
    return [entry["text"] for entry in state["entries"]]


def typed(page: Page, text: str) -> None:
    """Keys and Enter."""
    page.locator(".chair-form input").press_sequentially(text)
    page.keyboard.press("Enter")


def test_a_finger_reaches_every_place(chair: Page) -> None:
    """A tablet's number pad has no letters: tooth, site and quantity are taps, and every target is 44 px at least."""
    chair.get_by_text("Another place").tap()
    for key in ("21 ", "f ", "b ", "1", "1", ".", "7"):
        chair.locator(f'[data-key="{key}"]').tap()
    chair.get_by_role("button", name="Enter").tap()
    expect(chair.locator(".said")).to_contain_text("Kept: 21 (9) midfacial crest 11.7 mm")
    small = chair.locator("chair-side button:visible").evaluate_all(
        "buttons => buttons.filter(b => b.getBoundingClientRect().height < 44).map(b => b.textContent)"
    )
    assert small == []


def test_what_was_typed_after_a_refused_number_lands_nowhere(chair: Page) -> None:
    """47 for 4.7 is refused; the 4.0 meant for the next place must not become this one's."""
    chair.evaluate("""for (const text of ["47", "4.0"]) {
        document.querySelector(".chair-form input").value = text;
        document.querySelector(".chair-form").requestSubmit();
    }""")
    expect(chair.locator(".said")).to_contain_text("was not sent: 4.0")
    typed(chair, "4.0")  # without a look at the 47 that stands in the field again
    expect(chair.locator(".said")).to_contain_text("names a tooth and no site")
    assert entries(chair) == []


def test_an_entry_that_the_app_could_not_take_waits_and_is_sent_once(chair: Page) -> None:
    """The app was started anew and its door is shut: the number stays in the browser and counts once when it opens."""
    chair.route("**/entries", lambda route: route.fulfill(
        status=403, content_type="application/json", body='{"error": {"kind": "door", "text": "load the page again", "faults": []}}'
    ))  # fmt: skip
    typed(chair, "4.4")
    expect(chair.locator(".said")).to_contain_text("NOT on disk yet")
    assert entries(chair) == []
    chair.unroute("**/entries")
    chair.reload()
    expect(chair.locator(".said")).to_contain_text("Kept")
    chair.reload()
    assert len(entries(chair)) == 1


def test_a_tooth_is_named_as_it_is_typed(chair: Page) -> None:
    """Who types universal numbers reads them: 6 is what others call 13."""
    home = "/".join(chair.url.split("/")[:3])
    chair.goto(f"{home}/prefer?to=/&notation=universal&theme=auto&language=en")
    chair.goto(f"{home}/cases/{CASE}/surgery")
    expect(chair.locator(".asked")).to_contain_text("6 (13)")
    typed(chair, "7 f s 9.5")
    expect(chair.locator(".verdict")).to_contain_text("STOP and rethink: 7 (12) midfacial")
    expect(chair.locator(".latest")).to_contain_text("7 (12) midfacial")


def test_signing_off_with_one_reason_for_the_rest(chair: Page) -> None:
    """Nothing was read: without a reason it stays open, with one for all of it the day is closed."""
    chair.locator("summary", has_text="Sign off").tap()
    chair.locator(".chair-off button").tap()
    expect(chair.locator(".said")).to_contain_text("a reason is needed")
    chair.fill(".chair-off [name=rest]", "the patient felt unwell")
    chair.locator(".chair-off button").tap()
    expect(chair.get_by_text("Signed off by")).to_be_visible()
