"""Formulas of peaks and travel times against TR-55, HEC-22 and a training module."""

import csv
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from screening.errors import InputError
from screening.storm.peak_methods import (
    PAVED_SPEED_M_S,
    UNPAVED_SPEED_M_S,
    OutOfRange,
    channel_speed_m_s,
    frequency_factor,
    graphical_limits,
    graphical_peak_m3_s,
    pond_factor,
    rational_peak_m3_s,
    sheet_flow_time_h,
    unit_peak,
)
from screening.units import M3_PER_FT3, M_PER_FT

ACRE_M2 = 43560 * M_PER_FT**2
SQUARE_MILE_M2 = 640 * ACRE_M2
TABLE_F1 = Path(__file__).parents[1] / "tables" / "tr55_table_f1.csv"


def rational_cfs(coefficient, in_h, acres):
    return float(rational_peak_m3_s(coefficient, in_h * 25.4, acres * ACRE_M2)) / M3_PER_FT3


def test_sheet_flow():
    """TR-55 (1986) example 3-1, from memory: n .24, 100 ft, 1 %, 3.6 in: 0.30 h (the equation gives 0.2959)."""
    assert sheet_flow_time_h(0.24, 100 * M_PER_FT, 0.01, two_year_rain_mm=3.6 * 25.4) == pytest.approx(0.2959, abs=1e-4)


def test_shallow_concentrated_flow():
    """TR-55 (1986) figure 3-1, from memory: 1.6 ft/s unpaved and 2.03 paved at 1 %; 1400 ft take 0.24 h.

    HEC-22 (3rd ed.): 3.28 k 10 ft/s at 1 %, with k .491 unpaved and .619 paved, is the same to three figures.
    """
    assert pytest.approx(1.613, abs=1e-3) == UNPAVED_SPEED_M_S * 0.1 / M_PER_FT
    assert pytest.approx(2.033, abs=1e-3) == PAVED_SPEED_M_S * 0.1 / M_PER_FT
    assert pytest.approx(0.241, abs=1e-3) == 1400 * M_PER_FT / (UNPAVED_SPEED_M_S * 0.1) / 3600
    assert pytest.approx((4.91, 6.19), rel=2e-3) == (UNPAVED_SPEED_M_S, PAVED_SPEED_M_S)


def test_channel_flow():
    """TR-55 (1986) example 3-1, from memory: 27 ft2 over 28.2 ft, n .05, .5 %: 2.05 ft/s, 0.99 h for 7300 ft."""
    speed = channel_speed_m_s(0.05, 27 / 28.2 * M_PER_FT) * 0.005**0.5
    # The handbook rounds the constant 1.486 to 1.49.
    assert speed / M_PER_FT * 1.49 / 1.4859 == pytest.approx(2.047, abs=2e-3)
    assert 7300 * M_PER_FT / speed / 3600 == pytest.approx(0.991, abs=5e-3)


@given(st.floats(0.01, 0.8), st.floats(1, 100), st.floats(0.001, 0.5), st.floats(10, 200), st.floats(1.01, 3))
def test_scaling_of_sheet_flow(n, length, slope, rain, factor):
    """TR-55 eq. 3-3: n and L to 0.8, P2 to -0.5, s to -0.4."""

    def hours(**change):
        given = {"n": n, "length_m": length, "slope": slope, "two_year_rain_mm": rain}
        return sheet_flow_time_h(**{name: value * change.get(name, 1.0) for name, value in given.items()})

    for name, power in (("n", 0.8), ("length_m", 0.8), ("two_year_rain_mm", -0.5), ("slope", -0.4)):
        assert hours(**{name: factor}) / hours() == pytest.approx(factor**power, rel=1e-9)


def test_rational_peak_is_exact_in_si():
    """HEC-22 (3rd ed.) page 3-15: .235 x 48 mm/h x 17.55 ha / 360 = .55 m3/s; an acre-inch an hour is 1.00833 cfs."""
    assert float(rational_peak_m3_s(0.235, 48, 17.55e4)) == pytest.approx(0.235 * 48 * 17.55 / 360, rel=1e-12)
    assert rational_cfs(1, 1, 1) == pytest.approx(43560 / 43200, abs=1e-5)


@pytest.mark.parametrize(
    ("areas", "coefficients", "expected"),
    # HEC-22 (3rd ed.) example 3-1, page 3-7, before and after development.
    [((22.1, 21.2), (0.25, 0.22), 0.235), ((5.4, 1.6, 18.6, 17.7), (0.90, 0.15, 0.25, 0.22), 0.315)],
)
def test_weighted_coefficient(areas, coefficients, expected):
    assert np.average(coefficients, weights=areas) == pytest.approx(expected, abs=6e-4)


@pytest.mark.parametrize(
    ("coefficient", "in_h", "acres", "years", "expected"),
    [
        # HEC-22 (3rd ed.) example 3-3, page 3-15, which rounds 1.008 to 1.
        (0.235, 1.9, 43.3, 10, 19.3),
        (0.315, 2.3, 43.3, 10, 31.4),
        # NRCS Hydrology Training Series module 206D, examples 1 and 2 (inputs read in a transcription).
        ((6 * 0.40 + 3 * 0.15 + 3 * 0.90) / 12, 5.1, 12, 25, 31.1),
        ((0.35 + 10 * 0.50 + 2 * 0.90 + 5 * 0.60) / 18, 5.5, 18, 100, 69.8),
    ],
)
def test_rational_examples(coefficient, in_h, acres, years, expected):
    used = min(coefficient * frequency_factor(years), 1.0)
    assert rational_cfs(used, in_h, acres) / 1.00833 == pytest.approx(expected, abs=0.1)
    assert rational_cfs(used, in_h, acres) == pytest.approx(expected * 1.00833, abs=0.11)


def test_frequency_factors():
    """HEC-22 (3rd ed.) page 3-8."""
    assert [frequency_factor(years) for years in (1, 10, 24.9, 25, 50, 100, 1000)] == [1, 1, 1, 1.1, 1.2, 1.25, 1.25]


def test_unit_peaks_are_those_of_the_table():
    """TR-55 (1986) Table F-1, every row, at three times of concentration."""
    with TABLE_F1.open(newline="") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == 8 + 5 + 6 + 6
    for row in rows:
        c0, c1, c2 = (float(row[name]) for name in ("C0", "C1", "C2"))
        for hours in (0.1, 0.8, 10.0):
            expected = 10 ** (c0 + c1 * np.log10(hours) + c2 * np.log10(hours) ** 2)
            got = unit_peak(hours, float(row["ia_p"]), distribution=row["type"])
            assert float(got) == pytest.approx(expected, rel=1e-12), row


@pytest.mark.parametrize(
    ("tc", "ia_p", "square_miles", "runoff_in", "unit", "peak", "rel"),
    [
        # HEC-22 (3rd ed.) example 3-5, page 3-21.
        (0.8, 0.10, 2.35, 3.49, 409, 3354, 2e-3),
        # TR-55 (1986) example 4-1, printed answers from memory: 270 csm/in read from a figure, 345 cfs.
        (1.53, 0.667 / 6, 250 / 640, 3.28, 268.6, 345, 1e-2),
    ],
)
def test_graphical_examples(tc, ia_p, square_miles, runoff_in, unit, peak, rel):
    assert float(unit_peak(tc, ia_p, distribution="II")) == pytest.approx(unit, rel=2e-3)
    got = graphical_peak_m3_s(runoff_in * 25.4, square_miles * SQUARE_MILE_M2, tc, ia_p, distribution="II")
    assert float(got) / M3_PER_FT3 == pytest.approx(peak, rel=rel)


@pytest.mark.parametrize("kind", ["I", "IA", "II", "III"])
def test_the_graphical_method_takes_the_nearer_end_of_its_range(kind):
    """HEC-22 (3rd ed.) page 3-19: 0.1 to 10 h, Ia/P .10 to .50."""
    inside = unit_peak([0.1, 10.0, 1.0, 1.0], [0.3, 0.3, 0.10, 0.50], distribution=kind)
    outside = unit_peak([0.01, 40.0, 1.0, 1.0], [0.3, 0.3, 0.02, 0.90], distribution=kind)
    assert outside.tolist() == inside.tolist()


def test_what_lies_outside_its_range_is_said():
    assert graphical_limits([0.1, 10.0], [0.10, 0.50], [40, 98]) == OutOfRange(n_time=0, n_ratio=0, n_number=0)
    assert graphical_limits([0.05, 1.0], [0.6, 0.3], [39, 98]) == OutOfRange(n_time=1, n_ratio=1, n_number=1)
    assert graphical_limits([0.1, 11.0], [0.3, 0.3], [40, 98]) == OutOfRange(n_time=1, n_ratio=0, n_number=0)


def test_no_such_distribution():
    with pytest.raises(InputError, match="I, IA, II, III"):
        unit_peak(1.0, 0.2, distribution="IV")


def test_pond_factors():
    """TR-55 (1986) Table 4-2."""
    assert [pond_factor(share) for share in (0, 0.2, 1, 3, 5, 9)] == [1.00, 0.97, 0.87, 0.75, 0.72, 0.72]
    half = graphical_peak_m3_s(50.0, 1e5, 1.0, 0.2, distribution="II", pond_pct=5.0)
    assert float(half) == pytest.approx(0.72 * float(graphical_peak_m3_s(50.0, 1e5, 1.0, 0.2, distribution="II")))


@given(st.floats(0.1, 10), st.floats(0.1, 10), st.floats(0.1, 0.5), st.sampled_from(["IA", "II", "III"]))
def test_unit_peaks_fall_with_time(a, b, ia_p, kind):
    a, b = sorted((a, b))
    peaks = unit_peak([a, b], ia_p, distribution=kind)
    assert peaks[0] >= peaks[1] * (1 - 1e-9)
