"""What the brief of one lot says: found, drawn, counted, to do, to check, to beware of, in plain lines."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from screening.models import BlockResult, Verdict
from screening.plain_text import clean
from screening.report.brief.lot_picture import LotPicture, draw_lot
from screening.report.brief.measures import measure_words
from screening.report.brief.visit_lines import LEVEL_95, NAME_CHARS, first, line, on_site
from screening.report.cautions import CAUTIONS, site_cautions_of
from screening.report.findings import comparison_words, outcome_words, rain_words, sort_notes, subject_words
from screening.report.map.text import data_rows
from screening.report.visit.sheet import visit_rows
from screening.report.words import lots_told
from screening.report.words.notes import note_words
from screening.report.words.storage import caution_words
from screening.report.words.structures import exposure_words, wetting_words
from screening.schema.checks import checks_by_id
from screening.schema.codes.capture import InfiltrationStatus, StorageStatus
from screening.schema.codes.notes import NoteKind
from screening.schema.codes.verdicts import Outcome
from screening.schema.criteria import profile_words
from screening.structures.fall_away import two_point_error_m
from screening.terrain.elevation_error import vertical_rmse_m
from screening.units import UnitSystem, format_value

_MAX_FOUND, _MAX_NOTES, _MAX_CAUTIONS = 6, 7, 4
METHOD: tuple[str, ...] = (
    "Structures stand as walls on the elevation grid; low spots are filled exactly; each cell sends its water down its "
    "steepest way (D8), and areas are counted along it.",
    "Runoff by the curve number method (NRCS, TR-55) from ground cover and soil group; low spots fill, overflow and "
    "join, and no water is lost in the count.",
    "Candidate ground passes every rule on slope, soil, clear distances and room; storage there is sized by routing "
    "the same rain at the slower and the faster rate that may be found.",
    "Each threshold stands with its source in used_criteria.toml, each finding and each check in result.json.",
)


@dataclass(frozen=True)
class KeyNumber:
    """A number that matters, with what it is and what to know beside it."""

    value: str
    label: str
    note: str


@dataclass(frozen=True, kw_only=True)
class Brief:
    """One lot on one or two pages; all texts are plain and short."""

    lot_id: str
    title: str
    lead: str
    rain: str
    numbers: tuple[KeyNumber, ...]
    found: tuple[str, ...]
    picture: LotPicture
    measures: tuple[str, ...]
    on_site: tuple[tuple[str, tuple[str, ...]], ...]
    site_cautions: tuple[str, ...]
    cautions: tuple[str, ...]
    inputs: tuple[tuple[str, str], ...]
    notes: tuple[str, ...]
    units: UnitSystem


def make_briefs(
    result: BlockResult,
    lot_ids: Sequence[str],
    *,
    units: UnitSystem = "metric",
    title: str = "",
    provenance: Mapping[str, Any] | None = None,
) -> list[Brief]:
    """Put together the briefs of some lots.

    Parameters
    ----------
    result
        What was found.
    lot_ids
        The lots.
    units
        What readers see.
    title
        What the screening is called.
    provenance
        Name and value of what a reader must know of the data.
    """
    visits: dict[str, list[dict[str, Any]]] = {}
    for row in visit_rows(result, units):
        visits.setdefault(row["lot_id"], []).append(row)
    rows = lots_told(result, units).set_index("lot_id", drop=False)
    return [
        _brief(result, rows.loc[lot_id], visits.get(lot_id, []), units, title, provenance or {}) for lot_id in lot_ids
    ]


def _brief(
    result: BlockResult,
    lot: Any,
    visit: list[dict[str, Any]],
    units: UnitSystem,
    title: str,
    provenance: Mapping[str, Any],
) -> Brief:
    lot_id = str(lot["lot_id"])
    name = clean(lot_id, NAME_CHARS)
    lead = line(lot["main_finding"])
    own_title = clean(title, 80)
    cautions = [
        line(f"Storage {clean(storage_id, NAME_CHARS)}: {caution_words(caution, units)}")
        for storage_id, caution in site_cautions_of(result, lot_id)
    ]
    return Brief(
        lot_id=name,
        title=own_title if own_title and name.casefold() not in own_title.casefold() else "",
        lead=lead,
        rain=line(rain_words(result.storm.rain, units)),
        numbers=_key_numbers(result, lot, units),
        found=_found_lines(result, lot_id, units),
        picture=draw_lot(result, lot_id, units, caption=lead),
        measures=tuple(line(text) for text in measure_words(result, lot, units)),
        on_site=tuple(on_site(visit, units)),
        site_cautions=first(cautions, _MAX_CAUTIONS, "visit_sheet.html"),
        cautions=CAUTIONS,
        inputs=tuple(_input_rows(result, provenance, units)),
        notes=_note_lines(result),
        units=units,
    )


def _key_numbers(result: BlockResult, lot: Any, units: UnitSystem) -> tuple[KeyNumber, ...]:
    """Water that comes, where it matters most, and what the ground of the lot may take."""
    arriving = KeyNumber(
        format_value(lot["run_on_m3"], "m3", units),
        "of water comes onto the lot from outside in this storm",
        f"from {format_value(lot['off_lot_area_m2'], 'm2', units)} of ground"
        + (", a lower bound: unseen ground beyond may send more" if lot["edge_contaminated"] else ""),
    )
    return arriving, _wall_number(result, lot, units), _storage_number(result, lot, units)


def _wall_number(result: BlockResult, lot: Any, units: UnitSystem) -> KeyNumber:
    worst = result.structures[result.structures["structure_id"] == lot["worst_structure_id"]].to_dict("records")
    if not worst:
        depth = format_value(lot["low_spot_depth_max_m"], "m", units)
        return KeyNumber(depth, "is the deepest low spot on the lot when full", "no structure was given on it")
    row = worst[0]
    walls = f"the walls of {clean(row['kind'], 20)} {clean(row['structure_id'], NAME_CHARS)}"
    if row["exposure"] == "ponding":
        storm = format_value(row["pond_depth_storm_m"], "m", units)
        note = f"{storm} in this storm"
        rain = wetting_words(row, "wets them", units)
        note += f"; {rain}" if rain else ""
        return KeyNumber(
            format_value(row["pond_depth_full_m"], "m", units),
            f"of water stands against {walls} when a low spot is full",
            clean(note, 160),
        )
    runoff = format_value(row["wall_inflow_m3"], "m3", units)
    return KeyNumber(
        format_value(row["contributing_area_m2"], "m2", units),
        f"of ground drains to {walls}",
        f"{runoff} of water in this storm",
    )


def _storage_number(result: BlockResult, lot: Any, units: UnitSystem) -> KeyNumber:
    options = result.capture.options
    for row in options[options["lot_id"] == lot["lot_id"]].to_dict("records"):
        is_sized = row["overflow_m3"] == row["overflow_m3"]
        if row["inflow_m3"] > 0 and is_sized and row["status"] != StorageStatus.TOO_SLOW:
            taken = format_value(max(row["inflow_m3"] - row["overflow_m3"], 0.0), "m3", units)
            reaching = format_value(row["inflow_m3"], "m3", units)
            label = f"of the {reaching} that reach candidate zone {clean(row['zone_id'], 20)} could be stored there"
            return KeyNumber(taken, label, f"as {clean(row['kind'], 20)}, at the slower rate; to be tested on site")
    area = format_value(lot["infiltration_area_m2"], "m2", units)
    status = clean(lot["infiltration_status"], 40)
    if status == InfiltrationStatus.NOT_ASSESSED:
        return KeyNumber("not assessed", "ground that may take water back", clean(lot["infiltration_why"], 160))
    return KeyNumber(
        area, "of ground on the lot passes the rules for infiltration", clean(lot["infiltration_why"], 160)
    )


def _found_lines(result: BlockResult, lot_id: str, units: UnitSystem) -> tuple[str, ...]:
    """Structures in words, then the flagged checks that those words do not hold; the worst first."""
    lines = []
    own = result.structures[(result.structures["lot_id"] == lot_id)].sort_values("exposure_rank", kind="stable")
    for row in own.to_dict("records"):
        if row["exposure"] in ("ponding", "run-on"):
            name = f"{clean(row['kind'], 20).capitalize()} {clean(row['structure_id'], NAME_CHARS)}"
            lines.append(line(f"{name}: {exposure_words(row, result.criteria, units)}"))
    flags = [v for v in result.verdicts if v.lot_id == lot_id and v.is_flag and not _is_told(v)]
    lines += [_flag_line(v, units) for v in sorted(flags, key=lambda v: -v.points)]
    unknown = sum(v.lot_id == lot_id and v.outcome is Outcome.NOT_ASSESSED for v in result.verdicts)
    lines = list(first(lines or ["Nothing was flagged on this lot."], _MAX_FOUND, "result.json"))
    if unknown:
        lines.append(
            f"Not assessed, for lack of data or of accuracy: {unknown} "
            f"{'check' if unknown == 1 else 'checks'}. Unknown is never a pass."
        )
    return tuple(lines)


def _is_told(verdict: Verdict) -> bool:
    """True where the words of the structure say it already."""
    return checks_by_id()[verdict.check_id].is_told_with_exposure


def _flag_line(verdict: Verdict, units: UnitSystem) -> str:
    outcome = outcome_words(verdict)[0]
    mark = f" ({outcome})" if outcome != "flagged" else ""
    return line(f"{subject_words(verdict)}{mark}: {comparison_words(verdict, units)}")


def _input_rows(result: BlockResult, provenance: Mapping[str, Any], units: UnitSystem) -> list[tuple[str, str]]:
    rmse = vertical_rmse_m(result.criteria)
    one, two = (format_value(error, "m", units) for error in (LEVEL_95 * rmse, two_point_error_m(rmse)))
    level = f"as lidar of quality level {result.criteria.terrain.lidar_quality_level}"
    source = "as stated" if result.criteria.terrain.elevation_rmse_m else f"{level}, assumed"
    n = result.criteria.findings.n_realisations
    dated = [(name, value) for name, value in provenance.items() if name.startswith("date")]
    unsaid = "not stated in the inputs: ask when the elevation was surveyed; later grading is not in it"
    dates = [] if dated else [("Dates of the data", unsaid)]
    files = provenance.get("files") or {}
    named = "; ".join(f"{layer}: {clean(name, 60)}" for layer, name in files.items())
    told = {name: value for name, value in provenance.items() if name not in ("files", "crs", "cell_m")}
    return [
        *((line(name), line(value)) for name, value in data_rows(result, told, units) if name != "Thresholds"),
        *([("Files", clean(named, 700))] if named else []),
        (
            "Accuracy of heights",
            f"one height within {one}, the difference of two within {two}, at the 95 % level (RMSE "
            f"{format_value(rmse, 'm', units)}, {source})",
        ),
        (
            "Confidence",
            f"each finding repeated in {n} realisations of that error"
            if n
            else "not assessed: findings were not repeated under elevation error (--realisations)",
        ),
        ("Thresholds", f"{line(profile_words(result.criteria))}; all of them in used_criteria.toml"),
        *dates,
    ]


def _note_lines(result: BlockResult) -> tuple[str, ...]:
    told = [note for note in sort_notes(result.notes) if note.kind is not NoteKind.CONVERTED]
    lines = [clean(f"{note.kind.capitalize()}, {clean(note.subject, 40)}: {note_words(note)}", 220) for note in told]
    return first(lines, _MAX_NOTES, "result.json")
