"""The page in a real browser: started as users start it, searched, narrowed, and with its index swapped under it."""

from __future__ import annotations

import os
import re
import shutil
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

import pytest

from corpus.index import make_index
from corpus.library import Library
from tests.helpers.page_libraries import CHARTS, LONG_TITLE, make_library

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

ROOT = Path(__file__).resolve().parents[2]
WIDE, NARROW = (1280, 900), (600, 1000)
_START = "import sys; from ui.serving import serve; sys.exit(serve(sys.argv[1], int(sys.argv[2]), False))"
_PATIENCE = 60.0
#: A browser that asks nothing of the network by itself.
_QUIET = (
    "--no-sandbox",
    "--disable-dev-shm-usage",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
)


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
    chromium = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)
    if chromium is None:
        pytest.skip("no chromium on this machine")
    with playwright.sync_playwright() as play:
        launched = play.chromium.launch(executable_path=chromium, args=list(_QUIET))
        yield launched
        launched.close()


@pytest.fixture(scope="module")
def served(browser: Browser, tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Path, str]]:
    folder = make_library(tmp_path_factory.mktemp("library"))
    make_index(Library(folder))
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    command = [sys.executable, "-c", _START, str(folder), str(port)]
    elsewhere = tmp_path_factory.mktemp("elsewhere")
    with subprocess.Popen(command, cwd=elsewhere, env=environment, stderr=subprocess.PIPE) as process:
        try:
            _await(process, port)
            yield folder, f"http://127.0.0.1:{port}"
        finally:
            process.terminate()
            process.communicate(timeout=_PATIENCE)


def _await(process: subprocess.Popen[bytes], port: int) -> None:
    until = time.monotonic() + _PATIENCE
    while time.monotonic() < until and process.poll() is None:
        with socket.socket() as probe:
            if probe.connect_ex(("127.0.0.1", port)) == 0:
                return
        time.sleep(0.1)
    process.kill()
    raise AssertionError(f"the page did not start: {process.stderr.read().decode() if process.stderr else ''}")


@pytest.fixture
def page(browser: Browser, served: tuple[Path, str]) -> Iterator[Page]:
    context = browser.new_context(viewport={"width": WIDE[0], "height": WIDE[1]})
    context.set_default_timeout(_PATIENCE * 1000)
    opened = context.new_page()
    yield opened
    context.close()


def _search(page: Page, text: str) -> None:
    box = page.get_by_label("Progression", exact=True)
    box.fill(text)
    box.press("Enter")
    page.locator(".sc-answer", has_text=f"Tunes with {text}").wait_for()


def test_a_search_shows_its_bars_and_nothing_leaves_the_machine(page: Page, served: tuple[Path, str]) -> None:
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.goto(served[1])
    _search(page, "1 5 6m 2m")
    page.locator(".sc-match").first.wait_for()
    assert page.locator(".sc-match").count() == 4
    hosts = {urlsplit(url).hostname for url in asked if urlsplit(url).scheme.startswith(("http", "ws"))}
    assert hosts == {"127.0.0.1"}


def test_an_example_can_be_clicked(page: Page, served: tuple[Path, str]) -> None:
    page.goto(served[1])
    page.get_by_role("button", name="2m7 57 1maj7").click()
    page.locator(".sc-title", has_text="Minor Loop").wait_for()
    page.wait_for_url(re.compile(r"find=2m7"))


def test_a_tune_can_be_reloaded_and_gone_back_from(page: Page, served: tuple[Path, str]) -> None:
    page.goto(f"{served[1]}/?find=1+5+6m+2m")
    page.get_by_role("button", name="Whole tune").click()
    page.locator(".sc-sheet").wait_for()
    page.wait_for_url(re.compile("view=Tune"))
    page.go_back()
    page.locator(".sc-answer", has_text="Tunes with 1 5 6m 2m").wait_for()
    page.go_forward()
    page.locator(".sc-sheet").wait_for()
    page.reload()
    page.locator(".sc-sheet .sc-title", has_text="Loop").wait_for()


def test_a_script_in_a_title_is_not_run(page: Page, served: tuple[Path, str]) -> None:
    dialogs: list[str] = []
    page.on("dialog", lambda dialog: (dialogs.append(dialog.message), dialog.dismiss()))
    page.goto(f"{served[1]}/?find=1+4+57")
    page.locator(".sc-title", has_text="<script>").wait_for()
    page.goto(f"{served[1]}/?view=Tune&tune=script.txt")
    page.locator(".sc-sheet .sc-title", has_text="<script>").wait_for()
    assert dialogs == []


@pytest.mark.parametrize(
    "address",
    ["/?view=Tune&tune=long.txt", "/?find=4m+57+1", "/?view=Tune&tune=sung.txt", "/?view=Library", "/?view=Survey"],
)
@pytest.mark.parametrize("size", [WIDE, NARROW, (360, 700)])
def test_nothing_is_clipped_on_any_screen(
    page: Page, served: tuple[Path, str], address: str, size: tuple[int, int]
) -> None:
    page.set_viewport_size({"width": size[0], "height": size[1]})
    page.goto(served[1] + address)
    page.locator("[data-testid=stDataFrame]" if address.endswith(("Library", "Survey")) else ".sc-bar").first.wait_for()
    # What is wider than its own box would be cut off or stand on its neighbour.
    wide = page.evaluate(
        """() => [...document.querySelectorAll('.sc-bar, .sc-name, .sc-title, .sc-answer')]
        .filter(each => getComputedStyle(each).display !== 'inline' && each.scrollWidth > each.clientWidth + 1)
        .map(each => each.textContent)"""
    )
    assert wide == []
    assert page.evaluate("document.documentElement.scrollWidth") <= size[0]


def test_bars_wrap_on_a_narrow_screen(page: Page, served: tuple[Path, str]) -> None:
    rows = []
    for width, height in (WIDE, (500, 900)):
        page.set_viewport_size({"width": width, "height": height})
        page.goto(f"{served[1]}/?view=Tune&tune=loop.txt")
        page.locator(".sc-bar").first.wait_for()
        tops = page.evaluate(
            "[...document.querySelectorAll('.sc-bar')].map(e => Math.round(e.getBoundingClientRect().top))"
        )
        rows.append(len(set(tops)))
    assert rows == [1, 2]


def test_a_swapped_index_answers_at_once(page: Page, served: tuple[Path, str]) -> None:
    folder, url = served
    page.goto(url)
    _search(page, "1 5 6m 2")
    page.locator(".sc-title").first.wait_for()
    assert page.locator(".sc-title").all_inner_texts() == ["Loop"]
    (folder / "later.txt").write_text(CHARTS["loop.txt"].replace("Loop", "Later"), encoding="utf-8")
    make_index(Library(folder))
    _search(page, "1 5 6m 2m")
    page.locator(".sc-title", has_text="Later").wait_for()
    page.locator(".sc-title").nth(1).wait_for()
    assert sorted(page.locator(".sc-title").all_inner_texts()) == ["Later", "Loop"]


def test_a_long_title_can_be_chosen(page: Page, served: tuple[Path, str]) -> None:
    page.goto(f"{served[1]}/?view=Tune")
    box = page.get_by_label(re.compile("Tune")).and_(page.locator("input"))
    box.first.click()
    box.first.fill("Winding")
    page.get_by_role("option", name=re.compile("Winding")).click()
    page.locator(".sc-sheet .sc-title", has_text=LONG_TITLE).wait_for()


def test_a_chart_is_pasted_and_saved(page: Page, served: tuple[Path, str]) -> None:
    folder, url = served
    page.goto(f"{url}/?view=Paste")
    box = page.get_by_label("Chart", exact=True)
    box.fill("title: Pasted\nkey: C\n\n| C | Cmaj77 |\n")
    page.get_by_role("button", name="Read it").click()
    page.locator(".sc-listing .sc-fault", has_text="Cmaj7").wait_for()
    box.fill("title: Pasted\nkey: C\n\n| C | Cmaj7 |\n")
    page.get_by_role("button", name="Read it").click()
    page.get_by_role("button", name="Save into the library").click()
    page.locator(".sc-notice", has_text="Saved as pasted.txt").wait_for()
    assert (folder / "pasted.txt").read_text(encoding="utf-8").endswith("| C | Cmaj7 |\n")


def test_dropped_files_become_charts(page: Page, served: tuple[Path, str], tmp_path: Path) -> None:
    folder, url = served
    tune = tmp_path / "lane.txt"
    tune.write_text(
        "# title: Quarry Lane\n# metre: 4/4\n# tonic: G\n\n1.5\tA, verse, | G:maj | C:maj | D:7 | G:zork |\n"
    )
    letter = tmp_path / "letter.md"
    letter.write_text("Dear all, rehearsal is on Monday.\n")
    page.goto(f"{url}/?view=Library")
    page.get_by_text("Add tunes in other notations").click()
    page.locator("input[type=file]").set_input_files([str(tune), str(letter)])
    page.get_by_role("button", name="Add", exact=True).click()
    page.locator(".sc-notice", has_text="1 tune added").wait_for()
    page.locator(".sc-fault", has_text="the notation cannot be told").wait_for()
    page.locator(".sc-remark", has_text="zork").wait_for()
    assert "| G | C | D7 | N.C. |" in (folder / "lane.txt").read_text(encoding="utf-8")


@pytest.mark.parametrize("width", [1280, 800])
def test_a_tune_is_opened_from_the_library_in_the_rival_of_its_found_key(
    page: Page, served: tuple[Path, str], width: int
) -> None:
    page.set_viewport_size({"width": width, "height": 900})
    page.goto(f"{served[1]}/?view=Library")
    page.get_by_label("Words of a title, style or tag").fill("unsaid")
    page.keyboard.press("Enter")
    table = page.locator("[data-testid=stDataFrame]")
    # The table is drawn on a canvas: its only row is found by its place.
    page.wait_for_function("document.querySelector('[data-testid=stDataFrame]')?.getBoundingClientRect().height < 100")
    table.click(position={"x": 18, "y": 53})
    page.get_by_role("button", name="Open it in C, the next likeliest key").click()
    page.get_by_role("button", name="Back to Am").wait_for()
    degree = page.locator(".sc-degree").first
    degree.filter(has_text="6m").wait_for()
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    page.get_by_role("button", name="Back to Am").click()
    page.get_by_role("button", name="Read in C").wait_for()
    degree.filter(has_text="1m").wait_for()
