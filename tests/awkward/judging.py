"""Run the command line on an awkward input and say what came of it: an answer, a refusal, or silence."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from click.testing import CliRunner, Result

from screening.commands.main import cli

RIGHT, DOUBTED, NOT_ASSESSED = "right answer", "answer with its limits said", "said to be not assessed"
REFUSED, SILENT = "clear error", "silent failure"
COMPARED = (
    "area_m2",
    "assessed_frac",
    "contributing_area_m2",
    "curve_number",
    "runoff_mm",
    "n_structures",
    "n_low_spots",
    "low_spot_depth_max_m",
    "low_spot_volume_m3",
    "slope_pct",
    "exposure",
)
"""What of a lot is compared with the plain inputs' answer."""
_OPTIONS_OF_SITE = ("improvements", "rain-mm", "brief", "criteria", "storm", "units", "title")


@dataclass(frozen=True)
class Case:
    """One awkward input.

    Parameters
    ----------
    group, name
        What it is.
    make
        Writes it to a folder, given the plain inputs; gives the options that it changes (None = leave one out).
    expected
        `RIGHT`, `REFUSED`, `NOT_ASSESSED`, or `DOUBTED` where the data cannot give the plain answer: then a caution
        must say why, in the words of `says`.
    says
        What the refusal, or a note of the answer, must say.
    within
        How far numbers may lie from the plain answer, as a share.
    lot
        Which lot is compared.
    instead
        Findings that rightly differ from those of the plain inputs.
    """

    group: str
    name: str
    make: Callable[[Path, dict[str, str]], dict[str, str | None]]
    expected: str = RIGHT
    says: tuple[str, ...] = ()
    within: float = 1e-5
    lot: str = "A-1"
    instead: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class Outcome:
    """What came of a case, and why it was judged so."""

    judged: str
    why: str
    text: str


def run(command: str, options: dict[str, str | None]) -> Result:
    """Run `screening COMMAND` in this process."""
    known = {
        name: value for name, value in options.items() if command == "site" or name not in (*_OPTIONS_OF_SITE, "out")
    }
    words = [word for name, value in known.items() if value is not None for word in (f"--{name}", value)]
    return CliRunner().invoke(cli, [command, *words])


def answer_of(plain: dict[str, str], folder: Path) -> dict[str, Any]:
    """The lot's row with plain inputs."""
    result = run("site", {**plain, "rain-mm": "75", "out": str(folder)})
    assert result.exit_code == 0, result.output
    return dict(json.loads((folder / "result.json").read_text())["summary"][0])


def judge(
    case: Case, folder: Path, plain: dict[str, str], answer: dict[str, Any], *, brief: str | None = "none"
) -> Outcome:
    """Screen a case and judge what came of it; `answer` is the plain inputs' row, `brief` as the command takes it."""
    folder.mkdir(parents=True, exist_ok=True)
    out = folder / "out"
    changed = case.make(folder, plain)
    options = {**plain, "rain-mm": "75", "brief": brief, **changed, "out": str(out)}
    site, inspect = run("site", options), run("inspect", options)
    text = site.output + inspect.output
    for result in (site, inspect):
        if result.exception is not None and not isinstance(result.exception, SystemExit):
            return Outcome(SILENT, f"traceback: {result.exception!r}", text)
    if "Traceback" in text:
        return Outcome(SILENT, "a traceback is printed", text)
    if site.exit_code == 2:
        return _judge_refusal(case, site, inspect, changed, out)
    # With improvements there are two screenings.
    found = out / "after" if "improvements" in changed else out
    document = json.loads((found / "result.json").read_text(encoding="utf-8"))
    notes = " | ".join(f"{note['subject']}: {note['text']}" for note in document["notes"])
    said = notes + site.stderr + inspect.output
    missing = [words for words in case.says if words not in said]
    if missing:
        return Outcome(SILENT, f"no note says {missing}", notes)
    if site.exit_code == 1:
        return Outcome(NOT_ASSESSED, "exit code 1", site.stderr)
    if case.expected == DOUBTED:
        return Outcome(DOUBTED, "", notes)
    rows = [row for row in document["summary"] if row["lot_id"] == case.lot]
    if len(rows) != 1:
        return Outcome(SILENT, f"{len(rows)} rows for lot {case.lot}", str(document["summary"]))
    wrong = differences(rows[0], answer | case.instead, within=case.within)
    return Outcome(SILENT, f"wrong: {wrong}", notes) if wrong else Outcome(RIGHT, "", notes)


def differences(row: dict[str, Any], answer: dict[str, Any], *, within: float) -> dict[str, tuple[Any, Any]]:
    """Findings that differ by more than a share: got and expected by name."""
    return {
        name: (row[name], answer[name])
        for name in COMPARED
        if not _is_alike(row[name], answer[name], within=0.0 if name.startswith("n_") else within)
    }


def _is_alike(got: Any, expected: Any, *, within: float) -> bool:
    if isinstance(expected, float) and isinstance(got, float):
        return math.isclose(got, expected, rel_tol=within, abs_tol=1e-9)
    return bool(got == expected)


def _judge_refusal(case: Case, site: Result, inspect: Result, changed: dict[str, str | None], out: Path) -> Outcome:
    message = site.stderr.strip()
    if not message.startswith("Error: ") or "To mend it: " not in message:
        return Outcome(SILENT, "the error does not say how to mend it", message)
    if out.exists():
        return Outcome(SILENT, "something was written", message)
    names = _names_of(changed)
    if not any(name in message for name in names):
        return Outcome(SILENT, f"the error names none of {sorted(names)}", message)
    missing = [words for words in case.says if words not in message]
    if missing:
        return Outcome(SILENT, f"the error does not say {missing}", message)
    start = "! " + message.removeprefix("Error: ")[:40]
    is_said = inspect.exit_code == 2 or start in inspect.output
    if not is_said and not {"rain-mm", "criteria", "improvements"} & set(changed):  # which it does not look at
        return Outcome(SILENT, "inspect says nothing of it", inspect.output)
    return Outcome(REFUSED, "", message)


def _names_of(changed: dict[str, str | None]) -> set[str]:
    """What of a case its refusal may name: the files that it changes, and other options."""
    values = [str(value).partition("::")[0] for value in changed.values() if value]
    return {Path(value).name for value in values if "/" in value} | {
        f"--{name}" for name, value in changed.items() if value is None or "/" not in value
    }
