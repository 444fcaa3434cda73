"""A real browser with the network off, and the page of the sample lots in it."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from screening.models import BlockResult
from screening.report import build_map
from tests.places import ROOT

ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
SIZES = {"desktop": (1280, 800), "tablet": (900, 1100), "phone": (390, 844)}


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    program = shutil.which("chromium")
    if program is None:
        pytest.skip("Chromium is not installed")
    playwright = pytest.importorskip("playwright.sync_api")
    with playwright.sync_playwright() as started:
        running = started.chromium.launch(executable_path=program, args=ARGUMENTS)
        yield running
        running.close()


@pytest.fixture(scope="module")
def tabs(browser: Any) -> Tabs:
    """Tabs by size that no test holds: to load a page in one that is there takes half the time of a new one."""
    return {size: [] for size in SIZES}


Open = Callable[..., Any]
Tabs = dict[str, list[Any]]


@pytest.fixture
def open_page(browser: Any, tabs: Tabs, tmp_path: Path) -> Iterator[Open]:
    """Open HTML offline; afterwards no error was logged and nothing but the file itself was asked for."""
    troubles: list[str] = []
    held: list[tuple[str, Any, dict[str, Callable[[Any], None]]]] = []

    def opened(html: str, size: str = "desktop", *, is_quiet: bool = True) -> Any:
        width, height = SIZES[size]
        page = tabs[size].pop() if tabs[size] else _new_tab(browser, size)
        # As in a new tab: what a test before has set is taken back, and no pointer lies on the page.
        page.mouse.move(0, 0)
        page.emulate_media(media="null")
        if page.viewport_size != {"width": width, "height": height}:
            page.set_viewport_size({"width": width, "height": height})
        heard: dict[str, Callable[[Any], None]] = {"pageerror": lambda error: troubles.append(f"error: {error}")}
        if is_quiet:
            heard["console"] = lambda line: troubles.append(f"console: {line.text}")
            heard["request"] = lambda asked: (
                troubles.append(f"asked for {asked.url[:80]}")
                if not asked.url.startswith(("file:", "data:", "blob:"))
                else None
            )
        for event, hear in heard.items():
            page.on(event, hear)
        held.append((size, page, heard))
        # Each page has a name of its own: nothing of the one before it is kept for it.
        path = tmp_path / f"page-{len(held)}.html"
        path.write_text(html, encoding="utf-8")
        page.goto(path.as_uri())
        return page

    yield opened
    for size, page, heard in held:
        for event, hear in heard.items():
            page.remove_listener(event, hear)
        tabs[size].append(page)
    assert troubles == []


def _new_tab(browser: Any, size: str) -> Any:
    width, height = SIZES[size]
    is_phone = size == "phone"
    context = browser.new_context(
        viewport={"width": width, "height": height}, offline=True, is_mobile=is_phone, has_touch=is_phone
    )
    return context.new_page()


@pytest.fixture(scope="session")
def sample_html(sample_result: BlockResult) -> str:
    return build_map(sample_result, title="Sample lots")


@pytest.fixture(params=["desktop", "phone"])
def page(request: pytest.FixtureRequest, open_page: Open, sample_html: str) -> Any:
    shown = open_page(sample_html, request.param)
    shown.wait_for_selector("[data-ready=yes]")
    return shown


@pytest.fixture(scope="session")
def axe_script() -> str:
    """axe-core, from npm: `npm install --no-save axe-core`, or the file that SCREENING_AXE names."""
    path = Path(os.environ.get("SCREENING_AXE", ROOT / "node_modules" / "axe-core" / "axe.min.js"))
    if not path.is_file():
        pytest.skip(f"axe-core is not here: {path} (npm install --no-save axe-core)")
    return path.read_text(encoding="utf-8")


def violations(page: Any) -> list[str]:
    """What axe-core finds on the whole page."""
    found = page.evaluate("axe.run(document, { resultTypes: ['violations'] }).then((result) => result.violations)")
    return [f"{rule['id']}: {rule['nodes'][0]['html'][:120]}" for rule in found]
