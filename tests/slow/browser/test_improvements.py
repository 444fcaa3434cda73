"""The page of before and after in a real browser, with the network off."""

from __future__ import annotations

import dataclasses
from typing import Any

import pytest

from screening.models import Trial, note
from screening.report.improvements.page import build_improvements_page
from screening.schema.codes.notes import NoteCode, NoteKind, NoteSubject
from tests.report.conftest import HOSTILE_TEXTS
from tests.report.improvements.test_page import make_trial
from tests.slow.browser.conftest import Open

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def trial() -> Trial:
    return make_trial()


@pytest.mark.parametrize("size", ["desktop", "tablet", "phone"])
def test_the_page_switches_between_before_and_after(trial: Trial, open_page: Open, size: str) -> None:
    shown = open_page(build_improvements_page(trial), size)
    shown.wait_for_selector("#trial-map[data-ready=yes]")
    assert shown.locator("#trial-map").get_attribute("data-when") == "after"
    assert shown.locator(".more-water").inner_text() == "T east: more water"
    names = [text.strip() for text in shown.locator(".improvement-name").all_inner_texts()]
    assert "O" in names and any(name.startswith("trench drain T: ") for name in names)
    shown.get_by_text("Before", exact=True).first.click()
    assert shown.locator("#trial-map").get_attribute("data-when") == "before"
    assert shown.locator(".more-water").count() == 0
    shown.keyboard.press("ArrowRight")
    assert shown.locator("#trial-map").get_attribute("data-when") == "after"
    shown.get_by_text("Proposed improvements", exact=True).first.click()
    assert shown.locator(".improvement-name").count() == 0
    same = shown.locator("#comparison-table tr.same").first
    assert same.is_hidden()
    shown.get_by_text("Show what stays the same too").click()
    assert same.is_visible()
    assert shown.evaluate("document.documentElement.scrollWidth <= window.innerWidth + 1")


@pytest.mark.parametrize("name", list(HOSTILE_TEXTS))
def test_hostile_text_stays_text(name: str, open_page: Open) -> None:
    trial = make_trial(HOSTILE_TEXTS[name])
    hostile_note = note(NoteKind.CAUTION, NoteSubject.LOTS, NoteCode.READER_WARNED, message=HOSTILE_TEXTS[name])
    notes = (*trial.after.notes, hostile_note)
    hostile: Any = dataclasses.replace(trial, after=dataclasses.replace(trial.after, notes=notes))
    shown = open_page(build_improvements_page(hostile, title=HOSTILE_TEXTS[name]))
    shown.wait_for_selector("#trial-map[data-ready=yes]")
    assert shown.title() not in ("owned", "1")
    assert shown.locator("img[src=x]").count() == 0
