from __future__ import annotations

import dataclasses
from pathlib import Path

from screening.models import BlockResult, Trust, note
from screening.report import summarize
from screening.report.terminal import files_words
from screening.schema.codes.notes import NoteCode, NoteKind
from screening.schema.codes.verdicts import Confidence


def test_it_says_place_storm_findings_and_gaps(tiny_result: BlockResult) -> None:
    lines = summarize(tiny_result, title="Two lots").splitlines()
    assert lines[0] == "Two lots (screening, not design)"
    assert lines[1] == "2 lots: 2 structures, 1 driveway; 1 low spot in the window"
    assert lines[2] == "Rain: 10yr-24h, 108 mm (a low spot reaches the wall). Thresholds: neutral"
    assert lines[3:5] == ["", "Flagged: 1 of 2 lots"]
    assert lines[5].startswith("   1. A-1: Water stands against a low spot reaches the wall when")
    del lines[5]  # it goes on in the next one
    assert lines[6:8] == ["", "Confidence: not assessed (--realisations 50 says which findings hold)"]
    assert lines[8].startswith("Not assessed: 1 check, for lack of data or of accuracy: the driveway sheds away")
    assert lines[-2:] == [
        "Caution, window: a low spot reaches the wall",
        "1 note on what was missing, assumed, converted or repaired: result.json",
    ]


def test_missing_inputs_are_named_once(tiny_result: BlockResult) -> None:
    notes = [note(NoteKind.MISSING, name, NoteCode.NO_LAYER, layer=name) for name in ("doors", "soils", "doors")]
    text = summarize(dataclasses.replace(tiny_result, notes=tuple(notes)))
    assert "Missing, whole or in part: doors, soils" in text.splitlines()
    assert text.endswith("3 notes on what was missing, assumed, converted or repaired: result.json")


def test_the_head_of_a_long_source_is_enough(tiny_result: BlockResult) -> None:
    rain = dataclasses.replace(tiny_result.storm.rain, source="Volume 2; Partial duration; far away")
    storm = dataclasses.replace(tiny_result.storm, rain=rain)
    assert "(Volume 2). Thresholds" in summarize(dataclasses.replace(tiny_result, storm=storm))


def test_files_are_named_by_what_to_do_with_them() -> None:
    written = {
        key: Path("out") / name
        for key, name in {
            "summary_csv": "summary.csv",
            "map": "map.html",
            "brief_A": "brief_A.html",
            "brief_A_pdf": "brief_A.pdf",
        }.items()
    }
    assert files_words(written).splitlines() == [
        f"Open first: {Path('out') / 'map.html'}",
        "To hand over: brief_A.pdf",
        "Also there: summary.csv, brief_A.html",
    ]
    del written["brief_A_pdf"]
    assert "To hand over: brief_A.html" in files_words(written)
    assert files_words({}) == ""
    improvements = {
        "page": Path("out/improvements.html"),
        "table": Path("out/comparison.csv"),
        "before_map": Path("out/before/map.html"),
        "before_brief_A_pdf": Path("out/before/brief_A.pdf"),
        "after_map": Path("out/after/map.html"),
    }
    assert files_words(improvements).splitlines() == [
        "Open first: out/improvements.html",
        "Also there: comparison.csv",
        "A whole screening each, with map and briefs: before/, after/",
    ]


def test_confidence_counts_the_flags_within_elevation_error(tiny_result: BlockResult) -> None:
    criteria = tiny_result.criteria.replaced(n_realisations=50)
    unsure = Trust(code=Confidence.WITHIN_ERROR, frac=0.46, n_counted=23, n_realisations=50)
    verdicts = [dataclasses.replace(verdict, trust=unsure) for verdict in tiny_result.verdicts]
    doubted = dataclasses.replace(tiny_result, criteria=criteria, verdicts=tuple(verdicts))
    assert "Confidence: 1 of 1 flag within elevation error (50 realisations)" in summarize(doubted).splitlines()


def test_units(tiny_result: BlockResult) -> None:
    assert "4.26 in" in summarize(tiny_result, units="us")


def test_one_lot_names_its_flagged_checks(tiny_result: BlockResult) -> None:
    one = dataclasses.replace(tiny_result, summary=tiny_result.summary.iloc[:1])
    assert "  - Structure S-1: Depth at the wall, full: 0.40 m (required: below 0.10 m)" in summarize(one).splitlines()


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
    assert all(len(line) <= 80 for line in text.splitlines())
    assert all(mark.isprintable() or mark == "\n" for mark in text)
    assert len(text.splitlines()) < 40
