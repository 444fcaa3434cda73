"""Codes of notes: what kind of thing a note says, of what, and which of the things that can be said of it."""

from __future__ import annotations

from enum import StrEnum


class NoteKind(StrEnum):
    """How a reader must take a note."""

    ASSUMED = "assumed"
    CONVERTED = "converted"
    REPAIRED = "repaired"
    MISSING = "missing"
    CAUTION = "caution"


class NoteSubject(StrEnum):
    """Which input or stage a note is about."""

    ELEVATION = "elevation"
    CONTEXT_ELEVATION = "context elevation"
    LAND_COVER = "land cover"
    LOTS = "lots"
    STRUCTURES = "structures"
    DRIVEWAYS = "driveways"
    IMPERVIOUS = "impervious"
    ROADS = "roads"
    SOILS = "soils"
    DRAINS = "drains"
    WELLS = "wells"
    SEPTIC = "septic"
    BARRIERS = "barriers"
    DOWNSPOUTS = "downspouts"
    DOORS = "doors"
    WETLANDS = "wetlands"
    UTILITIES = "utilities"
    TREES = "trees"
    RAINFALL = "rainfall"
    IMPROVEMENTS = "improvements"
    WINDOW = "window"
    BREACHING = "breaching"
    INFLOW = "inflow from beyond"
    STORM = "storm"
    RUNOFF = "runoff"
    CONFIDENCE = "confidence"


class NoteCode(StrEnum):
    """What is said; `report.words.notes` has the sentence of each, and the names of its values."""

    # Any layer as it is read
    REPROJECTED = "reprojected"
    DATUM_TAKEN = "datum_taken"
    READER_WARNED = "reader_warned"
    WITHOUT_GEOMETRY = "without_geometry"
    IMPOSSIBLE_COORDINATES = "impossible_coordinates"
    GEOMETRIES_REPAIRED = "geometries_repaired"
    OTHER_GEOMETRY = "other_geometry"
    OTHER_PARTS = "other_parts"
    SLIVERS = "slivers"
    NO_ID_COLUMN = "no_id_column"
    IDS_REPEATED = "ids_repeated"
    IDS_MISSING = "ids_missing"
    PARTS_NAMED = "parts_named"
    NOT_ON_RASTER = "not_on_raster"

    # Layers that are not given
    NO_LAYER = "no_layer"

    # Lots
    LOTS_NUMBERED = "lots_numbered"
    LOTS_NUMBERED_AMONG = "lots_numbered_among"
    LOT_IDS_REPEATED = "lot_ids_repeated"
    LOT_IDS_MISSING = "lot_ids_missing"
    LOT_FIRST_TAKEN = "lot_first_taken"
    LOT_CIRCLE = "lot_circle"
    LOTS_OVERLAP = "lots_overlap"
    LOTS_LEFT_OUT = "lots_left_out"
    LOTS_CUT = "lots_cut"

    # Columns of other layers
    IMPERVIOUS_TAKEN = "impervious_taken"
    HEIGHT_MISSING = "height_missing"
    LENGTHS_TOO_LARGE = "lengths_too_large"
    LEVELS_STRANGE = "levels_strange"
    LEVEL_UNIT_ASSUMED = "level_unit_assumed"
    LEVELS_NO_NUMBERS = "levels_no_numbers"
    DRAINS_SPLIT = "drains_split"
    INVERTS_SWAPPED = "inverts_swapped"
    GROUPS_DERIVED = "groups_derived"
    NO_GROUP_COLUMN = "no_group_column"
    NO_GROUP_COLUMN_FOR_SOME = "no_group_column_for_some"
    GROUPS_MISSING = "groups_missing"
    GROUPS_STRANGE = "groups_strange"
    COLUMNS_NOT_READ = "columns_not_read"

    # Land cover
    COVER_MISSING = "cover_missing"
    COVER_BY_NLCD = "cover_by_nlcd"
    COVER_UNKNOWN = "cover_unknown"

    # Elevation as it is read
    UNIT_DISPUTED = "unit_disputed"
    UNIT_STATED = "unit_stated"
    UNIT_CONVERTED = "unit_converted"
    COORDINATES_MULTIPLIED = "coordinates_multiplied"
    DEGREES_RESAMPLED = "degrees_resampled"
    SCALE_RESAMPLED = "scale_resampled"
    RESAMPLED_ONTO = "resampled_onto"
    CELLS_RESAMPLED = "cells_resampled"
    CELLS_SQUARED = "cells_squared"
    CELLS_WIDE = "cells_wide"
    BAND_ASSUMED = "band_assumed"
    NUMBERS_SCALED = "numbers_scaled"
    STEPS_COARSE = "steps_coarse"
    INFINITE_EMPTY = "infinite_empty"
    HUGE_EMPTY = "huge_empty"
    MARK_EMPTY = "mark_empty"
    HEIGHTS_UNLIKELY = "heights_unlikely"
    NOTHING_LOOKED_AT = "nothing_looked_at"
    CONTEXT_NOT_COARSER = "context_not_coarser"
    CONTEXT_REACH_CUT = "context_reach_cut"

    # Rainfall table
    TABLE_OF_MAXIMA = "table_of_maxima"

    # Window
    WINDOW_ELEVATION_ENDS = "window_elevation_ends"
    WINDOW_AT_LIMIT = "window_at_limit"
    WINDOW_AT_CELLS = "window_at_cells"
    WINDOW_ENDS_AND_LIMIT = "window_ends_and_limit"
    WINDOW_ENDS_AND_CELLS = "window_ends_and_cells"

    # Terrain
    GAPS_INTERPOLATED = "gaps_interpolated"
    GAPS_DRAIN = "gaps_drain"
    GAPS_HOLD = "gaps_hold"
    BARRIER_NOT_RAISED = "barrier_not_raised"
    CURB_HEIGHTS_ASSUMED = "curb_heights_assumed"
    CURB_DROPPED = "curb_dropped"
    BREACHED = "breached"
    DOWNSPOUT_LEFT_OUT = "downspout_left_out"
    INTAKE_DRY = "intake_dry"
    INTAKE_NOT_LAID = "intake_not_laid"
    INTAKE_CELLS_LOW = "intake_cells_low"
    PIPE_NOT_OPENED = "pipe_not_opened"
    PIPE_IN_ONE_CELL = "pipe_in_one_cell"
    PIPE_UNDER_STRUCTURES = "pipe_under_structures"
    PIPE_END_HIGH = "pipe_end_high"
    PIPE_TAKEN_OPEN = "pipe_taken_open"
    INVERT_HIGH = "invert_high"
    DRAIN_TURNED = "drain_turned"
    PIPES_SHARE_INLET = "pipes_share_inlet"
    SWALE_END_UNKNOWN = "swale_end_unknown"
    SWALE_RUNS_OUT = "swale_runs_out"
    SWALE_AT_STRUCTURES = "swale_at_structures"
    SWALE_CUT = "swale_cut"

    # Flow
    PIPE_STAYS_DRY = "pipe_stays_dry"
    ROOF_IN_COURTYARD = "roof_in_courtyard"
    CONTEXT_SUPPLIES_NOTHING = "context_supplies_nothing"
    CONTEXT_DRAINS_IN = "context_drains_in"
    CONTEXT_RUNOFF = "context_runoff"
    CONTEXT_EDGE_OPEN = "context_edge_open"
    CONTEXT_CUT = "context_cut"
    CONTEXT_LOST = "context_lost"
    CONTEXT_RETURNS = "context_returns"
    CONTEXT_ABOVE = "context_above"
    CONTEXT_BELOW = "context_below"

    # Storm
    RAIN_ASSUMED = "rain_assumed"
    RAIN_DURATION_ASSUMED = "rain_duration_assumed"
    RAIN_OF_MAXIMA = "rain_of_maxima"
    SOIL_GROUP_UNKNOWN = "soil_group_unknown"
    RUNOFF_WEIGHTED = "runoff_weighted"
    OPEN_SPACE_ASSUMED = "open_space_assumed"
    DEVELOPED_OPEN = "developed_open"
    DEVELOPED_TWICE = "developed_twice"
    TIMES_INSIDE_ONLY = "times_inside_only"
    TWO_YEAR_RAIN_ASSUMED = "two_year_rain_assumed"
    PEAKS_GRAPHICAL = "peaks_graphical"
    PEAKS_OUT_OF_RANGE = "peaks_out_of_range"

    # Findings
    ERROR_STATED = "error_stated"
    ERROR_OF_QUALITY_LEVEL = "error_of_quality_level"


class UnseenWater(StrEnum):
    """What becomes of water from beyond a side of the window that stays open."""

    UNKNOWN = "unknown"
    FROM_CONTEXT = "from_context"


class BarrierProblem(StrEnum):
    """Why a barrier is not raised."""

    NO_HEIGHT = "no_height"
    OUTSIDE = "outside"


class DownspoutProblem(StrEnum):
    """What a downspout lacks within its reach."""

    NO_STRUCTURE = "no_structure"
    NO_GROUND = "no_ground"


class OutletProblem(StrEnum):
    """Why water cannot come out at the outlet of an intake."""

    OUTSIDE = "outside"
    IN_STRUCTURE = "in_structure"
    NO_ELEVATION = "no_elevation"


class PipeEndProblem(StrEnum):
    """Why a pipe has no cell at one of its ends."""

    NONE = ""
    BEYOND = "beyond"
    IN_STRUCTURE = "in_structure"
    NO_ELEVATION = "no_elevation"


class DrainEnd(StrEnum):
    """One of the two ends of a drain."""

    UPPER = "upper"
    LOWER = "lower"
