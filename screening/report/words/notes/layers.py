"""Sentences of notes on vector layers, land cover and improvements as they are read."""

from __future__ import annotations

from screening.report.words.notes.template import Choices, Template
from screening.schema.codes.notes import NoteCode, NoteSubject

TEMPLATES: dict[NoteCode, Template] = {
    NoteCode.REPROJECTED: "reprojected from {crs}",
    NoteCode.DATUM_TAKEN: "{source} taken as {target}: places may be off by a metre or two",
    NoteCode.READER_WARNED: "reader: {message}",
    NoteCode.WITHOUT_GEOMETRY: "{n_features} features without a geometry left out",
    NoteCode.IMPOSSIBLE_COORDINATES: "{n_features} features with impossible coordinates left out",
    NoteCode.GEOMETRIES_REPAIRED: "{n_features} invalid geometries repaired (feature numbers {numbers})",
    NoteCode.OTHER_GEOMETRY: "{n_features} features left out: not of the kind wanted",
    NoteCode.OTHER_PARTS: "{n_parts} parts of mixed geometries left out: not of the kind wanted",
    NoteCode.SLIVERS: "{n_parts} slivers (under {least_m2} m², or lines of no length) left out",
    NoteCode.NO_ID_COLUMN: "no column of ids: numbered {prefix}1, {prefix}2, ... by their position in the file",
    NoteCode.IDS_REPEATED: "ids in {column} that stand for several features ({ids}): #2, #3, ... added",
    NoteCode.IDS_MISSING: "{n_features} features without an id in {column} named unnamed-1, unnamed-2, ...",
    NoteCode.PARTS_NAMED: "features of several parts split: -1, -2, ... added to the id",
    NoteCode.NOT_ON_RASTER: "nothing of it lies on the elevation raster",
    NoteCode.NO_LAYER: "{layer}",
    NoteCode.LOTS_NUMBERED: "no column of ids: lots numbered by their position in the file",
    NoteCode.LOTS_NUMBERED_AMONG: "no column of ids among {columns}: lots numbered by their position in the file",
    NoteCode.LOT_IDS_REPEATED: "{n_ids} ids in {column} stand for several lots ({ids}): #2, #3, ... added",
    NoteCode.LOT_IDS_MISSING: "{n_lots} lots without an id in {column} named unnamed-1, unnamed-2, ...",
    NoteCode.LOT_FIRST_TAKEN: "several lots hold the place ({ids}): the first in the file was taken",
    NoteCode.LOT_CIRCLE: "no lots layer: a circle of {radius_m:g} m around the place stands for the lot",
    NoteCode.LOTS_OVERLAP: "lots lie upon each other ({pairs}): the ground they share is counted for the later of the "
    "two only; screen them one at a time to have it for each",
    NoteCode.LOTS_LEFT_OUT: "{n_lots} lots outside the elevation raster left out ({ids})",
    NoteCode.LOTS_CUT: "{n_lots} lots reach beyond the elevation raster ({ids})",
    NoteCode.IMPERVIOUS_TAKEN: "{n_taken} of {n_polygons} impervious polygons taken as driveways: within {touch_m:g} m "
    "of a structure or street, and under {covered_frac:.0%} covered by structures, streets and given driveways; "
    "patios and walks that touch a house are among them",
    NoteCode.HEIGHT_MISSING: "no height above 0 in a column such as height_m: {ids} cannot be raised",
    NoteCode.LENGTHS_TOO_LARGE: "{column} above {largest_m:g} m taken as not given: the unit of its column is not what "
    "it says ({which})",
    NoteCode.LEVELS_STRANGE: "{column} off the ground at its place ({which}): the unit or datum of the column is not "
    "what it says; taken as not given",
    NoteCode.LEVEL_UNIT_ASSUMED: "{column} taken as {unit}, the unit of the elevation raster",
    NoteCode.LEVELS_NO_NUMBERS: "{n_values} values of {column} are no numbers: not given",
    NoteCode.DRAINS_SPLIT: "lines of several parts split; their inverts hold for no one part",
    NoteCode.INVERTS_SWAPPED: "the upper invert lies below the lower one: {ids}",
    NoteCode.GROUPS_DERIVED: "{n_polygons} polygons without a group: taken from {columns} by NEH 630 Table 7-1",
    NoteCode.NO_GROUP_COLUMN: "no column of hydrologic groups among {columns}: every group is unknown",
    NoteCode.NO_GROUP_COLUMN_FOR_SOME: "no column of hydrologic groups among {columns}: {n_polygons} groups are "
    "unknown",
    NoteCode.GROUPS_MISSING: "{n_polygons} polygons without a hydrologic group in {column}: unknown",
    NoteCode.GROUPS_STRANGE: "values of {column} that are no hydrologic group taken as unknown: {given}",
    NoteCode.COLUMNS_NOT_READ: "{kind} {improvement_id}: not read: {columns}",
    NoteCode.COVER_MISSING: "{share_frac:.0%} of the window has no land cover: it is taken as lawn",
    NoteCode.COVER_BY_NLCD: "classes of the raster are read as those of the National Land Cover Database",
    NoteCode.COVER_UNKNOWN: "values that are no cover are taken as lawn: {given}",
}

CHOICES: Choices = {
    (NoteCode.NO_LAYER, "layer"): {
        NoteSubject.LOTS: "no lots layer: distances to lot lines and what belongs to which lot cannot be assessed",
        NoteSubject.STRUCTURES: "no structures layer: exposure of structures and distances to them cannot be "
        "assessed, and water crosses them on the map as if they were not there",
        NoteSubject.DRIVEWAYS: "no driveways layer: where driveways shed their water cannot be assessed",
        NoteSubject.ROADS: "no roads layer: roads are taken as the ground around them",
        NoteSubject.SOILS: "no soils layer: soil groups are unknown, and with them runoff by soil and infiltration",
        NoteSubject.DRAINS: "no drains layer: culverts and pipes under embankments are unseen, "
        "and low spots behind them may be false",
        NoteSubject.WELLS: "no wells layer: distances to wells cannot be assessed",
        NoteSubject.SEPTIC: "no septic layer: distances to septic fields cannot be assessed",
        NoteSubject.BARRIERS: "no barriers layer: curbs and walls narrower than a cell are unseen",
        NoteSubject.DOORS: "no doors layer: depths are given for walls, not for doors and other openings",
        NoteSubject.DOWNSPOUTS: "no downspouts layer: each roof drains to the ground beside its nearest wall",
        NoteSubject.WETLANDS: "no wetlands layer: distances to wetlands cannot be assessed",
        NoteSubject.UTILITIES: "no utilities layer: distances to buried utilities cannot be assessed; "
        "have them located first",
        NoteSubject.TREES: "no trees layer: ground under trees is unseen, and candidate zones may lie on roots",
    },
}
