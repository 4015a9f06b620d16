"""The app in the system's Chromium: start, navigation, JavaScript, dragging, editing; each beside a bare peer in the same run.

    python benchmarks/app.py [RUNS]

Peers: a FastAPI app of one empty page on the same server (start, navigation), a circle moved on an empty page (drag), the draft of the
plan in process without HTTP, drawing or browser (edit). Wanted figures are those of the issue of the app.
"""

from __future__ import annotations

import gzip
import json
import os
import re
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Sequence
from pathlib import Path

from playwright.sync_api import Browser, CDPSession, Page, Response, sync_playwright

sys.path.insert(0, str(Path(__file__).parents[1] / "tests"))

from festoon.model.dentition import Tooth, as_seen
from festoon.store import keeping
from festoon.store.opening import open_store
from festoon.web.serve import listening_socket
from festoon.workflow.demo import keep_demo_cases
from festoon.workflow.desk import draft
from mouths import case, tooth

FOURTEEN = as_seen(Tooth(f"{quadrant}{position}") for quadrant in "12" for position in range(1, 8))
CASE = "fourteen"
BARE = """
import sys, uvicorn
from fastapi import FastAPI
from fastapi.responses import HTMLResponse
app = FastAPI()
@app.get("/")
def page() -> HTMLResponse:
    return HTMLResponse("<!doctype html><title>bare</title><svg id=s width=900 height=600><circle id=c r=9 /></svg>")
uvicorn.run(app, port=int(sys.argv[1]), log_level="error")
"""
Row = tuple[str, str, str, str]


def free_port() -> int:
    """A port that nothing listens on."""
    listener = listening_socket(0)
    port: int = listener.getsockname()[1]
    listener.close()
    return port


def first_answer(
    command: Sequence[str], port: int, environment: dict[str, str]
) -> tuple[float, subprocess.Popen[bytes]]:
    """Seconds from starting a server to its first answer of any status, and the server."""
    start = time.perf_counter()
    server = subprocess.Popen(command, env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    while time.perf_counter() - start < 60:
        try:
            urllib.request.urlopen(f"http://127.0.0.1:{port}/", timeout=5)
            break
        except urllib.error.HTTPError:
            break  # a refusal without the token is an answer too: nothing in the app comes sooner
        except OSError:
            time.sleep(0.005)
    return time.perf_counter() - start, server


def serving(festoon: str, environment: dict[str, str]) -> tuple[subprocess.Popen[str], str]:
    """The app in a process of its own, and the address that it prints."""
    command = (festoon, "serve", "--no-browser", "--port", "0")
    app = subprocess.Popen(command, env=environment, stdout=subprocess.PIPE, text=True)
    assert app.stdout is not None
    for line in app.stdout:
        if found := re.search(r"http://\S+", line):
            return app, found[0]
    raise SystemExit("the app printed no address")


def starts(
    command: Callable[[int], Sequence[str]], runs: int, environment: dict[str, str]
) -> tuple[list[float], list[float]]:
    """Several starts, each stopped again: seconds to the first answer, and seconds of processor time until then."""
    times, work = [], []
    for _ in range(runs):
        port = free_port()
        seconds, server = first_answer(command(port), port, environment)
        server.terminate()
        _, _, used = os.wait4(server.pid, 0)
        server.returncode = 0  # waited for above
        times.append(seconds)
        work.append(used.ru_utime + used.ru_stime)
    return times, work


def navigation(page: Page, address: str, ready: str, runs: int) -> list[float]:
    """Seconds from asking for a page until what is waited for stands in it."""
    times = []
    for _ in range(runs):
        start = time.perf_counter()
        page.goto(address, wait_until="load")
        page.wait_for_selector(ready, state="attached")
        page.evaluate("() => new Promise(done => requestAnimationFrame(() => setTimeout(done)))")
        times.append(time.perf_counter() - start)
    return times


def javascript(browser: Browser, entry: str, paths: Sequence[str]) -> int:
    """Bytes of all JavaScript that these pages load together, each file compressed once."""
    context = browser.new_context()
    page = context.new_page()
    found: dict[str, int] = {}

    def take(answer: Response) -> None:
        url = answer.url.split("?")[0]
        if url.endswith(".js"):
            found[url] = len(gzip.compress(answer.body(), 9))

    page.goto(entry)
    page.wait_for_url("**/")
    page.on("response", take)
    for path in paths:
        page.goto(entry.split("/enter")[0] + path, wait_until="networkidle")
    context.close()
    return sum(found.values())


FRAMES = """(moves) => new Promise(done => {
  const waits = [];
  const seen = event => { const at = performance.now(); requestAnimationFrame(() => { const port = new MessageChannel();
    port.port1.onmessage = () => { waits.push(performance.now() - at); if (waits.length >= moves) { removeEventListener('pointermove', seen, true); window.waits = waits; } };
    port.port2.postMessage(0); }); };
  window.waits = null; addEventListener('pointermove', seen, true); done(true); })"""


def dragged(page: Page, chrome: CDPSession, x: float, y: float, moves: int) -> tuple[list[float], float]:
    """Milliseconds from each move to the frame after it, and work of the page's main thread for a move."""
    page.evaluate(FRAMES, moves)
    page.mouse.move(x, y)
    page.mouse.down()
    before = _busy(chrome)
    for step in range(moves):
        page.mouse.move(x, y - 1 - step % 30)
        page.wait_for_timeout(20)
    page.wait_for_timeout(200)
    work = (_busy(chrome) - before) * 1000 / moves
    waits: list[float] = page.evaluate("() => window.waits ?? []")
    return waits, work


def _busy(chrome: CDPSession) -> float:
    metrics = {item["name"]: item["value"] for item in chrome.send("Performance.getMetrics")["metrics"]}
    return float(metrics["TaskDuration"])


EDIT = """(name) => new Promise(done => {
  const handle = document.querySelector(`[data-handle="${name}"]`); handle.focus();
  const start = performance.now();
  new MutationObserver((_, watch) => { watch.disconnect();
    requestAnimationFrame(() => { const port = new MessageChannel(); port.port1.onmessage = () => done(performance.now() - start); port.port2.postMessage(0); });
  }).observe(document.querySelector('.design-numbers'), {childList: true});
  handle.dispatchEvent(new KeyboardEvent('keydown', {key: 'ArrowUp', bubbles: true})); })"""


def edits(page: Page, runs: int) -> list[float]:
    """Milliseconds from a key on a handle to the re-solved plan on the screen."""
    times = []
    for _ in range(runs):
        times.append(float(page.evaluate(EDIT, "length-11")))
        page.wait_for_timeout(1500)  # until the version is kept and its own draft is through
    return times


def said(times: Sequence[float], unit: str, digits: int) -> str:
    """Median and slowest."""
    return f"{statistics.median(times):.{digits}f} {unit} (slowest {max(times):.{digits}f})"


def main(runs: int) -> None:
    """Measure and print a table."""
    rows: list[Row] = []
    chromium = shutil.which("chromium")
    if chromium is None:
        raise SystemExit("CHROMIUM IS ABSENT: nothing was measured (Debian package chromium)")
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        home = Path(folder) / "home"
        store = open_store(home)
        keep_demo_cases(store, by="bench")
        whole = case({t.fdi: tooth(t.fdi) for t in FOURTEEN}, case=CASE)
        keeping.save_case(store, CASE, whole.model_dump_json(), base=0, by="bench", why="benchmark")
        script = Path(folder) / "bare.py"
        script.write_text(BARE, "utf-8")
        environment = os.environ | {"FESTOON_HOME": str(home)}
        festoon = str(Path(sys.executable).with_name("festoon"))
        ours = starts(lambda port: (festoon, "serve", "--no-browser", "--port", str(port)), runs, environment)
        bare = starts(lambda port: (sys.executable, str(script), str(port)), runs, environment)
        rows.append(("start to first answer", said(ours[0], "s", 2), f"bare FastAPI {said(bare[0], 's', 2)}", "1.5 s"))
        rows.append(("processor time of it", said(ours[1], "s", 2), f"bare FastAPI {said(bare[1], 's', 2)}", ""))
        browser = playwright.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
        bare_port = free_port()
        _, server = first_answer((sys.executable, str(script), str(bare_port)), bare_port, environment)
        app, entry = serving(festoon, environment)
        rows += in_browser(browser, entry, f"http://127.0.0.1:{bare_port}/", runs)
        app.terminate()
        app.wait(10)
        server.terminate()
        server.wait(10)
        browser.close()
        plain, busy = [], []
        for step in range(runs + 1):
            start, used = time.perf_counter(), time.process_time()
            draft(store, CASE, {"teeth.11.target_length_mm": 10.0 + step / 10})
            plain.append((time.perf_counter() - start) * 1000)
            busy.append((time.process_time() - used) * 1000)
        row = rows[-1]
        peer = f"draft in process {said(plain[1:], 'ms', 0)}, processor time {said(busy[1:], 'ms', 0)}"
        rows[-1] = (row[0], row[1], peer, row[3])
    print(json.dumps({"load": os.getloadavg(), "runs": runs}))
    for name, measured, peer, wanted in rows:
        print(f"| {name} | {measured} | {peer} | {wanted} |")


def in_browser(browser: Browser, entry: str, bare: str, runs: int) -> list[Row]:
    """What is measured in the page."""
    rows: list[Row] = []
    base = entry.split("/enter")[0]
    page = browser.new_page(viewport={"width": 1280, "height": 900})
    chrome = page.context.new_cdp_session(page)
    chrome.send("Performance.enable")
    page.goto(entry)
    page.wait_for_url(f"{base}/")
    empty = navigation(page, bare, "#c", runs)
    for path, ready in (
        ("/", "bring-in"), ("/cases/linden-04/chart", "chart-entry"), ("/cases/linden-04/design", "[data-handle]"),
        ("/cases/linden-04/plan", ".ledger"), (f"/cases/{CASE}/design", "[data-handle]"),
    ):  # fmt: skip
        times = navigation(page, base + path, ready, runs)
        rows.append((f"navigation to usable, {path}", said(times, "s", 2), f"empty page {said(empty, 's', 2)}", "1 s"))
    plain = ("/", *(f"/cases/linden-04/{way}" for way in ("chart", "design", "plan", "surgery", "recall", "print")))
    sizes = [javascript(browser, entry, paths) for paths in (plain, (*plain, "/cases/linden-04/scan"))]
    mesh = len(gzip.compress((Path(__file__).parents[1] / "src/festoon/web/built/mesh.js").read_bytes(), 9))
    rows.append(
        ("JavaScript without the 3-D view, gzip", f"{sizes[0] / 1000:.1f} kB; with the scan page {sizes[1] / 1000:.1f} kB",
         f"the 3-D view {mesh / 1000:.0f} kB", "250 kB")
    )  # fmt: skip
    page.goto(f"{base}/cases/{CASE}/design")
    handle = page.locator('[data-handle="length-11"]')
    handle.scroll_into_view_if_needed()
    box = handle.bounding_box()
    assert box is not None
    waits, work = dragged(page, chrome, box["x"] + box["width"] / 2, box["y"] + box["height"] / 2, 60)
    page.mouse.up()
    page.wait_for_timeout(2000)
    times = edits(page, runs)
    page.goto(bare)
    page.evaluate("() => addEventListener('pointermove', event => c.setAttribute('cy', event.clientY))")
    bare_waits, bare_work = dragged(page, chrome, 300.0, 300.0, 60)
    rows.append(
        (
            "drag to painted frame, 14 teeth",
            said(waits, "ms", 1),
            f"circle on an empty page {said(bare_waits, 'ms', 1)}",
            "16 ms",
        )
    )
    rows.append(("work of the page for a move", f"{work:.1f} ms", f"circle on an empty page {bare_work:.1f} ms", ""))
    rows.append(("edit to re-solved plan on screen, 14 teeth", said(times, "ms", 0), "", "150 ms"))
    return rows


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 7)
