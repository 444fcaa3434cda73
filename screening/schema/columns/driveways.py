"""Columns of the driveway study: what each driveway sheds, over which metres of its edge, and in which storm."""

from __future__ import annotations

from screening.schema.columns.kinds import Column, code, code_number, count, flag, number, sentence, text
from screening.schema.columns.shared import LOT_ID

_DRIVEWAY_ID = text("driveway_id", "Driveway", "Id of the driveway")

SHARE_WORDS: dict[str, str] = {
    "wall": "over its edge at a garage or another structure",
    "street": "to the street or its verge",
    "neighbour": "to land beyond its lot that is no street",
    "beyond": "beyond its lot, where no roads layer tells street from neighbour",
    "low_spot": "to a low spot beside it",
    "lawn": "to other ground of its lot",
    "other": "to another driveway, down a drain, or out of the elevation data",
}
"""Where water goes, by the word in the column names."""

SHED_COLUMNS: tuple[Column, ...] = (
    sentence("sheds", "Where it sheds", "Where its own rain and its run-on leave it, in words"),
    code("shed_shares", "Where it sheds", "Shares of its own rain and of its run-on: `models.ShedShare`"),
    text("shape", "Shape", "planar to one side, crowned, trough or not assessed"),
    number("length_m", "m", "Length", "Long side of the least rectangle around it"),
    number("width_m", "m", "Width", "Short side of that rectangle"),
    number("long_slope_pct", "pct", "Long slope", "Fall along it, by a fit to its ground"),
    text("long_falls_to", "Falls along to", "Compass word of the way down along it"),
    number("cross_slope_pct", "pct", "Cross slope", "Fall across it, by the same fit"),
    text("cross_falls_to", "Falls across to", "Compass word of the way down across it"),
    number("crown_m", "m", "Crown", "Height of its middle over both edges; negative = a trough"),
    number(
        "line_offset_m", "m", "High or low line off the middle", "Distance of the line across which the fall turns over"
    ),
    text("line_offset_to", "Off the middle to", "Compass word of the side on which that line lies"),
    number("fit_residual_m", "m", "Left by the fit", "Root mean square of the ground about the fitted shape"),
    count("n_low_points", "Low points", "Low points that hold water on it"),
    number("own_m3", "m3", "Own rain", "Storm runoff of the driveway itself"),
    number("run_on_m3", "m3", "Run-on", "Storm runoff that comes onto it from other ground, before any is held back"),
    number("stays_m3", "m3", "Stays on it", "Of both, what its own low points hold"),
    *(
        number(f"own_to_{key}_frac", "frac", f"Own rain, to {key.replace('_', ' ')}", f"Share of it that goes {words}")
        for key, words in SHARE_WORDS.items()
    ),
    number("own_stays_frac", "frac", "Own rain, stays", "Share of it that its own low points hold"),
    *(
        number(f"run_on_to_{key}_frac", "frac", f"Run-on, to {key.replace('_', ' ')}", f"Share of it that goes {words}")
        for key, words in SHARE_WORDS.items()
    ),
    number("run_on_stays_frac", "frac", "Run-on, stays", "Share of it that its own low points hold"),
    number("wall_m3", "m3", "Water at the garage line", "Storm volume that leaves over its edge at a structure"),
    number("wall_peak_l_s", "l_s", "Peak at the garage line", "Peak flow there, before any is held back"),
    number("wall_peak_gpm", "gpm", "Peak at the garage line, gpm", "The same in US gallons a minute"),
    flag("is_small", "Small", "Few or narrow cells: shares and slopes are rough"),
    sentence("shape_note", "Beside the numbers", "What limits them: small, narrow, bent, without elevation"),
    code("shape_limits", "Beside the numbers", "Pairs of a `codes.driveways.ShapeLimit` and its number"),
)

DRIVEWAY_EDGE_COLUMNS: tuple[Column, ...] = (
    text("edge_id", "Edge", "Id of the piece of edge"),
    _DRIVEWAY_ID,
    LOT_ID,
    text("sheds_to", "Beyond it", "garage, structure, street, driveway, neighbour, low spot or lawn"),
    text("sheds_to_id", "Its id", "Id of that structure or driveway"),
    number("from_m", "m", "From", "Where the piece begins along the outline, from its most northern corner"),
    number("to_m", "m", "To", "Where it ends"),
    number("length_m", "m", "Length", "Length of the piece"),
    number("own_frac", "frac", "Share of own rain", "Share of the driveway's own rain that leaves over it"),
    number("run_on_frac", "frac", "Share of run-on", "Share of its run-on that leaves over it"),
    number("share_frac", "frac", "Share of all", "Share of both that leaves over it"),
    number("volume_l", "l", "Leaves", "Storm volume that leaves over it"),
    number("peak_l_s", "l_s", "Peak", "Peak flow over it, before any is held back"),
    number("peak_gpm", "gpm", "Peak, gpm", "The same in US gallons a minute"),
    number("enters_l", "l", "Comes on", "Storm volume of run-on that comes onto the driveway over it"),
)

DRIVEWAY_ARROW_COLUMNS: tuple[Column, ...] = (
    _DRIVEWAY_ID,
    LOT_ID,
    number("direction_deg", "deg", "Direction", "Way down, clockwise from north"),
    number("slope_pct", "pct", "Slope", "Fall of the ground that way"),
)

DRIVEWAY_LOW_POINT_COLUMNS: tuple[Column, ...] = (
    text("low_point_id", "Low point", "Id of the low point"),
    _DRIVEWAY_ID,
    LOT_ID,
    text("kind", "Kind", "holds water, or lowest ground of the driveway"),
    number("elev_m", "m", "Elevation", "Of the ground there"),
    number("depth_m", "m", "Depth", "Water there before it runs on"),
    number("volume_l", "l", "Holds", "Water on the driveway before it runs on"),
)

DRIVEWAY_STORM_COLUMNS: tuple[Column, ...] = (
    _DRIVEWAY_ID,
    LOT_ID,
    text("storm", "Storm", "The rain"),
    number("rain_mm", "mm", "Rain", "Its depth"),
    number("own_m3", "m3", "Own rain", "Runoff of the driveway itself"),
    number("run_on_m3", "m3", "Run-on", "Runoff that comes onto it"),
    number("leaves_m3", "m3", "Leaves", "What leaves over its edge"),
    number("other_m3", "m3", "Other ways", "What goes down a drain or out of the elevation data"),
    number("stays_m3", "m3", "Stays", "What its low points hold"),
    number("wall_m3", "m3", "At the garage line", "What leaves over its edge at a structure"),
    number("wall_peak_l_s", "l_s", "Peak at the garage line", "Peak flow there, before any is held back"),
    number("wall_peak_gpm", "gpm", "Peak at the garage line, gpm", "The same in US gallons a minute"),
    number("wall_tc_min", "min", "Time of that peak", "Time within which the ground that makes the peak is there"),
    sentence("peak_method", "Peak by", "rational or graphical method, or why it is not assessed"),
    code("peak_code", "Peak by", "A `codes.storm.PeakCode`"),
    code_number("peak_limit", "Limit of the method", "The number of that code, NaN where it has none"),
)

DRIVEWAY_AREA_COLUMNS: tuple[Column, ...] = (
    _DRIVEWAY_ID,
    LOT_ID,
    number("area_m2", "m2", "Ground that drains to it", "Ground that drains over any of its cells, its own with it"),
)

DRIVEWAY_TABLES: dict[str, tuple[Column, ...]] = {
    "driveway_edges": DRIVEWAY_EDGE_COLUMNS,
    "driveway_arrows": DRIVEWAY_ARROW_COLUMNS,
    "driveway_low_points": DRIVEWAY_LOW_POINT_COLUMNS,
    "driveway_areas": DRIVEWAY_AREA_COLUMNS,
    "driveway_storms": DRIVEWAY_STORM_COLUMNS,
}
"""Columns by the name of the table or layer."""
