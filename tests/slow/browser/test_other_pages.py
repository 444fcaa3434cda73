"""The pages beside the map: access, no error, no request, and hostile text that stays text."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from screening.batch.page import lots_page
from screening.models import BlockResult
from screening.report.brief.content import make_briefs
from screening.report.brief.page import brief_page
from screening.report.improvements.page import build_improvements_page
from screening.report.visit.page import visit_page
from tests.batch.test_page import lots
from tests.report.conftest import HOSTILE_TEXTS, make_result
from tests.report.improvements.test_page import make_trial
from tests.slow.browser.conftest import SIZES, Open, violations

pytestmark = pytest.mark.browser


def _improvements(text: str) -> str:
    return build_improvements_page(make_trial(text), title=text)


def _many_lots(text: str) -> str:
    frame = lots(40)
    frame["lot_id"] = [f"{text} {number}" for number in range(len(frame))]
    frame["main_finding"] = text
    return lots_page(frame, title=text)


def _brief(text: str) -> str:
    result: BlockResult = make_result((text, f"{text} 2"), text, text)
    return brief_page(make_briefs(result, [result.summary["lot_id"].iloc[0]], title=text)[0])


def _visit(text: str) -> str:
    return visit_page(make_result((text, f"{text} 2"), text, text), title=text)


PAGES: dict[str, Callable[[str], str]] = {
    "improvements": _improvements,
    "many lots": _many_lots,
    "brief": _brief,
    "visit": _visit,
}


@pytest.mark.parametrize("size", list(SIZES))
@pytest.mark.parametrize("name", list(PAGES))
def test_axe_finds_nothing(browser: Any, axe_script: str, tmp_path: Path, name: str, size: str) -> None:
    width, height = SIZES[size]
    context = browser.new_context(viewport={"width": width, "height": height}, offline=True, bypass_csp=True)
    page = context.new_page()
    (tmp_path / "page.html").write_text(PAGES[name]("plain"), encoding="utf-8")
    page.goto((tmp_path / "page.html").as_uri())
    page.wait_for_timeout(500)
    page.evaluate(axe_script)
    page.evaluate("document.querySelectorAll('details').forEach((part) => { part.open = true; })")
    assert violations(page) == []
    context.close()


@pytest.mark.parametrize("text", list(HOSTILE_TEXTS))
@pytest.mark.parametrize("name", list(PAGES))
def test_hostile_text_stays_text(open_page: Open, name: str, text: str) -> None:
    page = open_page(PAGES[name](HOSTILE_TEXTS[text]), "phone")
    page.wait_for_timeout(300)
    assert page.title() not in ("owned", "1")
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth + 1")
