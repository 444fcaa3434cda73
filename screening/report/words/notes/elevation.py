"""Sentences of notes on elevation rasters, the rainfall table and the window."""

from __future__ import annotations

from screening.report.words.notes.template import Choices, Template
from screening.schema.codes.notes import NoteCode, UnseenWater

TEMPLATES: dict[NoteCode, Template] = {
    NoteCode.UNIT_DISPUTED: "the file says {said}, but the option says {unit}: the option was followed",
    NoteCode.UNIT_STATED: "vertical unit {unit} as stated; the file does not say",
    NoteCode.UNIT_CONVERTED: "elevations in {unit} multiplied by {factor_m:.9g} to metres",
    NoteCode.COORDINATES_MULTIPLIED: "coordinates in {unit} multiplied by {factor_m:.9f} to metres ({crs}); cells kept",
    NoteCode.DEGREES_RESAMPLED: "its coordinates are degrees: resampled bilinearly to {crs}",
    NoteCode.SCALE_RESAMPLED: "its map scale there is {scale:.3f}, not 1: resampled bilinearly to {crs}",
    NoteCode.RESAMPLED_ONTO: "resampled bilinearly to {crs}, the CRS of the elevation raster",
    NoteCode.CELLS_RESAMPLED: "resampled bilinearly to square north-up cells of {cell_m:g} m",
    NoteCode.CELLS_SQUARED: "resampled bilinearly to square north-up cells of {cell_m:g} m; its cells are not square "
    "and north-up",
    NoteCode.CELLS_WIDE: "cells of {cell_m:.3g} m are wider than a driveway: what is narrower cannot be seen",
    NoteCode.BAND_ASSUMED: "band 1 of {n_bands} is the elevation",
    NoteCode.NUMBERS_SCALED: "stored numbers scaled by {scale:g} with offset {offset:g}, as the file states",
    NoteCode.STEPS_COARSE: "whole numbers: elevations come in steps of {step_m:.3g} m, and what is lower cannot be "
    "seen",
    NoteCode.INFINITE_EMPTY: "infinite values taken as no data",
    NoteCode.HUGE_EMPTY: "untagged values such as {stored:.4g} taken as no data",
    NoteCode.MARK_EMPTY: "untagged value {stored:g} taken as no data",
    NoteCode.HEIGHTS_UNLIKELY: "{message}",
    NoteCode.NOTHING_LOOKED_AT: "no elevation was found{sampled}; whether there is any on the lots is not known",
    NoteCode.CONTEXT_NOT_COARSER: "{name} has cells of {cell_m:.3g} m, no coarser than the elevation's "
    "{fine_cell_m:.3g} m: it could be given as the elevation itself",
    NoteCode.CONTEXT_REACH_CUT: "read {reach_m:,.0f} m around the window: more would pass {cells_max:,} cells",
    NoteCode.TABLE_OF_MAXIMA: "annual maxima give less rain than a partial duration series below 25 years",
    NoteCode.WINDOW_ELEVATION_ENDS: "The elevation ends to the {ends}: {beyond}",
    NoteCode.WINDOW_AT_LIMIT: "The window reached its limit of {limit_m:.0f} m to the {stopped}: {beyond}",
    NoteCode.WINDOW_AT_CELLS: "The window reached its limit of {cells_max:,} cells to the {stopped}: {beyond}",
    NoteCode.WINDOW_ENDS_AND_LIMIT: "The elevation ends to the {ends} and the window reached its limit of "
    "{limit_m:.0f} m to the {stopped}: {beyond}",
    NoteCode.WINDOW_ENDS_AND_CELLS: "The elevation ends to the {ends} and the window reached its limit of "
    "{cells_max:,} cells to the {stopped}: {beyond}",
}

_BEYOND: dict[str, str] = {
    UnseenWater.UNKNOWN: "water from beyond may reach a lot, so areas and volumes there are lower bounds",
    UnseenWater.FROM_CONTEXT: "what comes from beyond is taken from the coarser elevation",
}
CHOICES: Choices = {
    (code, "beyond"): _BEYOND
    for code in (
        NoteCode.WINDOW_ELEVATION_ENDS,
        NoteCode.WINDOW_AT_LIMIT,
        NoteCode.WINDOW_AT_CELLS,
        NoteCode.WINDOW_ENDS_AND_LIMIT,
        NoteCode.WINDOW_ENDS_AND_CELLS,
    )
}
