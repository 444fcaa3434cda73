"""Sentences of notes on the terrain: gaps, barriers, drains, downspouts and intakes."""

from __future__ import annotations

from collections.abc import Mapping

from screening.models import NoteValue
from screening.report.words.notes.template import Choices, Composed, Template
from screening.schema.codes.notes import BarrierProblem, DownspoutProblem, NoteCode, OutletProblem, PipeEndProblem

PIPE_END_WORDS = {
    PipeEndProblem.BEYOND: "lies beyond the window; elevation as far as there would show where it leads",
    PipeEndProblem.IN_STRUCTURE: "lies inside structure {structures}, with no open ground within {snap_m:g} m; "
    "end it outside",
    PipeEndProblem.NO_ELEVATION: "has no elevation within {snap_m:g} m; move it to where the ground is known",
}


def _pipe_not_opened(values: Mapping[str, NoteValue]) -> str:
    problems = []
    for end in ("upper", "lower"):
        problem = PipeEndProblem(str(values[end]))
        if problem is not PipeEndProblem.NONE:
            inside = values[f"{end}_structures"]
            said = PIPE_END_WORDS[problem].format(structures=inside, snap_m=values["snap_m"])
            problems.append(f"its {end} end {said}")
    return f"{values['name']} is not opened: {', '.join(problems)}"


TEMPLATES: dict[NoteCode, Template] = {
    NoteCode.GAPS_INTERPOLATED: "{area_m2:.0f} m² of small gaps in the elevation were interpolated",
    NoteCode.GAPS_DRAIN: "{area_m2:.0f} m² of the window have no elevation; water that reaches them leaves there",
    NoteCode.GAPS_HOLD: "{area_m2:.0f} m² of the window have no elevation; water that reaches them is held back by "
    "them",
    NoteCode.BARRIER_NOT_RAISED: "barrier {barrier_id} is not raised: {problem}",
    NoteCode.CURB_HEIGHTS_ASSUMED: "{n_curbs} curbs without a height taken as {height_m:g} m high (curb_height_m)",
    NoteCode.CURB_DROPPED: "curb {barrier_id} is taken as dropped at driveways, on {n_cells} cells",
    NoteCode.BREACHED: "{n_channels} channels were cut by least-cost breaching (surface changes): low spots they drain "
    "are not seen",
    NoteCode.DOWNSPOUT_LEFT_OUT: "downspout {downspout_id} is left out: {problem} within {reach_m:g} m in the window",
    NoteCode.INTAKE_DRY: "{name} takes no water: no cell of it could be opened",
    NoteCode.INTAKE_NOT_LAID: "{name} is not laid: its outlet {problem}; move it",
    NoteCode.INTAKE_CELLS_LOW: "{name}: {n_low} of its {n_cells} cells are no higher than the ground at its outlet "
    "({outlet_m:.2f} m) and take nothing; move the outlet to lower ground",
    NoteCode.PIPE_NOT_OPENED: Composed(
        ("name", "upper", "upper_structures", "lower", "lower_structures", "snap_m"), _pipe_not_opened
    ),
    NoteCode.PIPE_IN_ONE_CELL: "{name} is not opened: both ends fall into one cell; draw it from bank to bank, longer "
    "than a cell",
    NoteCode.PIPE_UNDER_STRUCTURES: "{name} passes under structure {structures}: check that it does",
    NoteCode.PIPE_END_HIGH: "{name}: water would have to stand at {down_m:.2f} m to come out at its lower end, above "
    "its upper end at {up_m:.2f} m; check the inverts, or move its lower end to the bed it drains to",
    NoteCode.PIPE_TAKEN_OPEN: "{name} leads water under the ground, which stays as it is, and is taken as open and "
    "never full: water that stands at {crest_m:.2f} m at its upper end comes out at {down_m:.2f} m",
    NoteCode.INVERT_HIGH: "{name}: its {end} invert lies {above_m:.2f} m above the ground there: check both",
    NoteCode.DRAIN_TURNED: "{name} rises along its line: taken the other way round; check its direction, and its "
    "inverts if given",
    NoteCode.PIPES_SHARE_INLET: "{names} begin in one cell: the one that comes out lowest takes all of its water",
    NoteCode.SWALE_END_UNKNOWN: "{name} has an end without elevation in the window: not cut",
    NoteCode.SWALE_RUNS_OUT: "{name} runs out of the window without a depth or both inverts: not cut; give either",
    NoteCode.SWALE_AT_STRUCTURES: "{name} is cut up to structure {structures} and not under it: check where it runs",
    NoteCode.SWALE_CUT: "{name} is cut open along its line, up to {deepest_m:.2f} m deep",
}

CHOICES: Choices = {
    (NoteCode.BARRIER_NOT_RAISED, "problem"): {
        BarrierProblem.NO_HEIGHT: "no height is given",
        BarrierProblem.OUTSIDE: "it lies outside the window",
    },
    (NoteCode.DOWNSPOUT_LEFT_OUT, "problem"): {
        DownspoutProblem.NO_STRUCTURE: "no structure",
        DownspoutProblem.NO_GROUND: "no ground",
    },
    (NoteCode.INTAKE_NOT_LAID, "problem"): {
        OutletProblem.OUTSIDE: "lies outside the elevation",
        OutletProblem.IN_STRUCTURE: "lies inside a structure",
        OutletProblem.NO_ELEVATION: "lies where no elevation is known",
    },
}
