from __future__ import annotations

import dataclasses

from screening.models import BlockResult
from screening.report import summarize


def test_it_says_place_storm_findings_and_gaps(tiny_result: BlockResult) -> None:
    lines = summarize(tiny_result, title="Two lots").splitlines()
    assert lines[0] == "Two lots (screening, not design)"
    assert lines[1] == "2 lots: 2 structures, 1 driveway; 1 low spot in the window"
    assert lines[2] == "Rain: 10yr-24h, 108 mm (a low spot reaches the wall)"
    assert lines[3] == "Thresholds: neutral"
    assert lines[4] == "Flagged: 1 of 2 lots"
    assert lines[5] == "   1. A-1: a low spot reaches the wall (1 flag)"
    assert lines[6] == "Confidence: not assessed; --realisations 50 says which findings hold under elevation error"
    assert "Not assessed: 1 check, for lack of data or of accuracy" in lines
    assert lines[-2:] == [
        "  - caution, window: a low spot reaches the wall",
        "  - assumed, elevation: Metres were assumed",
    ]


def test_confidence_counts_the_flags_within_elevation_error(tiny_result: BlockResult) -> None:
    criteria = dataclasses.replace(tiny_result.criteria, n_realisations=50)
    verdicts = [
        dataclasses.replace(verdict, confidence="within elevation error (holds in 23 of 50)")
        for verdict in tiny_result.verdicts
    ]
    doubted = dataclasses.replace(tiny_result, criteria=criteria, verdicts=tuple(verdicts))
    assert "Confidence: 1 of 1 flag within elevation error (50 realisations)" in summarize(doubted).splitlines()


def test_units(tiny_result: BlockResult) -> None:
    assert "4.26 in" in summarize(tiny_result, units="us")


def test_one_lot_names_its_flagged_checks(tiny_result: BlockResult) -> None:
    one = dataclasses.replace(tiny_result, summary=tiny_result.summary.iloc[:1])
    assert "  - Structure S-1: Depth at the wall, full: 0.40 m (sought: below 0.10 m)" in summarize(one).splitlines()


def test_only_so_many_lots_are_named(tiny_result: BlockResult) -> None:
    both = tiny_result.summary.assign(n_flags=[2, 1])
    text = summarize(dataclasses.replace(tiny_result, summary=both), max_lots=1)
    assert "  and 1 more in summary.csv" in text.splitlines()
    assert "A-2:" not in text


def test_nothing_not_assessed_is_said(tiny_result: BlockResult) -> None:
    known = dataclasses.replace(tiny_result, verdicts=tiny_result.verdicts[:2])
    assert "Not assessed: nothing; every check could be made" in summarize(known)


def test_hostile_text_stays_within_the_lines(hostile_result: BlockResult) -> None:
    text = summarize(hostile_result)
    assert all(len(line) <= 100 for line in text.splitlines())
    assert all(mark.isprintable() or mark == "\n" for mark in text)
    assert len(text.splitlines()) < 40
