"""Sentences of notes on flow and on what comes from beyond the window."""

from __future__ import annotations

from screening.report.words.notes.template import Template
from screening.schema.codes.notes import NoteCode

_SOURCE = "{name} (cells of {cell_m:.3g} m)"
_DATUM = "its unit or datum may be wrong; areas do not depend on it"

TEMPLATES: dict[NoteCode, Template] = {
    NoteCode.PIPE_STAYS_DRY: "no water enters {name}: it would have to stand at {crest_m:.2f} m, and runs off over the "
    "ground from {runs_off_m:.2f} m on; check the inverts, their unit and their datum, and where its ends are drawn",
    NoteCode.ROOF_IN_COURTYARD: "{area_m2:.0f} m² of roof have a downspout where water would rise to the roof before "
    "it runs off, as in an enclosed courtyard: they drain to the ground beside the nearest wall instead; if the "
    "courtyard has a drain, give it as a culvert",
    NoteCode.CONTEXT_SUPPLIES_NOTHING: _SOURCE + " supplies nothing: it covers no more than the window, or its cells "
    "are too large for it",
    NoteCode.CONTEXT_DRAINS_IN: "{area_ha:,.2f} ha of ground beyond the window drain into it at {n_places} places, by "
    + _SOURCE
    + ", routed without structures, drains and barriers; the window's edge stands as a wall where a flow path comes "
    "in, and outlines show the part inside the window",
    NoteCode.CONTEXT_RUNOFF: "runoff beyond the window by curve number {curve_number:g}",
    NoteCode.CONTEXT_EDGE_OPEN: "{share_frac:.0%} of the window's edge is not supplied: what it reaches is a lower "
    "bound",
    NoteCode.CONTEXT_CUT: "at {n_places} places the ground beyond is cut by the coarser elevation's own edge or gaps",
    NoteCode.CONTEXT_LOST: "{area_ha:,.2f} ha come in by the coarser elevation where no edge cell leads in: not "
    "counted",
    NoteCode.CONTEXT_RETURNS: "water that leaves the window and comes back is not counted again; where it is more than "
    "{most_frac:.0%} of an area, that area is called a lower bound",
    NoteCode.CONTEXT_ABOVE: "{name} lies {offset_m:.1f} m above the fine elevation: " + _DATUM,
    NoteCode.CONTEXT_BELOW: "{name} lies {offset_m:.1f} m below the fine elevation: " + _DATUM,
}
