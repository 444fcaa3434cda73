import math

import pytest
from scipy.optimize import brentq

from screening.errors import InputError
from screening.storage.ranges import Range, round_outward
from screening.storage.rates import RAWLS_1982_MM_H, URBAN_AVERAGE_MM_H, green_ampt_mm, ksat_class, urban_rate_mm_h

IN = 25.4
SANDY_LOAM = {"conductivity_mm_h": 0.43 * IN, "suction_mm": 4.33 * IN, "deficit_frac": 0.25}


@pytest.mark.parametrize(
    ("texture", "rate_in_h"),
    # Rawls, Brakensiek & Saxton 1982, from memory.
    [
        ("sand", 8.27),
        ("loamy sand", 2.41),
        ("sandy loam", 1.02),
        ("loam", 0.52),
        ("silt loam", 0.27),
        ("sandy clay loam", 0.17),
        ("clay loam", 0.09),
        ("silty clay loam", 0.06),
        ("sandy clay", 0.05),
        ("silty clay", 0.04),
        ("clay", 0.02),
    ],
)
def test_rates_by_texture(texture, rate_in_h):
    assert RAWLS_1982_MM_H[texture] == pytest.approx(rate_in_h * IN)
    assert list(RAWLS_1982_MM_H.values()) == sorted(RAWLS_1982_MM_H.values(), reverse=True)


@pytest.mark.parametrize(
    ("hsg", "low_in_h", "average_in_h", "high_in_h"),
    # Minnesota Stormwater Manual, after Rawls 1998: compacted, average, loosened.
    [("A", 0.50, 0.90, 2.20), ("B", 0.15, 0.205, 0.24), ("C", 0.11, 0.14, 0.30), ("D", 0.06, 0.06, 0.06)],
)
def test_rates_of_urban_soil(hsg, low_in_h, average_in_h, high_in_h):
    rate = urban_rate_mm_h(hsg)
    assert (rate.low / IN, rate.high / IN) == pytest.approx((low_in_h, high_in_h))
    assert rate.low <= URBAN_AVERAGE_MM_H[hsg] <= rate.high
    assert URBAN_AVERAGE_MM_H[hsg] == pytest.approx(average_in_h * IN)


def test_unknown_soil_has_no_rate_and_undrained_duals_are_d():
    assert urban_rate_mm_h("unknown") is None
    assert urban_rate_mm_h("A/D") == urban_rate_mm_h("D")
    with pytest.raises(InputError):
        urban_rate_mm_h("E")


@pytest.mark.parametrize(
    ("ksat_um_s", "name"),
    # Soil Survey Manual, from memory: very high >= 100, high 10-100, 1-10, 0.1-1, 0.01-0.1, very low < 0.01 um/s.
    [
        (100, "very high"),
        (99.9, "high"),
        (10, "high"),
        (1, "moderately high"),
        (0.1, "moderately low"),
        (0.01, "low"),
        (0.0099, "very low"),
        (0, "very low"),
    ],
)
def test_classes_of_conductivity(ksat_um_s, name):
    assert ksat_class(ksat_um_s * 3.6) == name


def test_green_ampt_from_the_start_and_under_rain():
    # K 0.43 in/h, psi 4.33 in, deficit 0.25; ponded: F(1 h) = 1.2704 in; rain 2 in/h: 1.2156 in, excess 0.7844 in.
    assert green_ampt_mm(1.0, **SANDY_LOAM) / IN == pytest.approx(1.2704, abs=1e-3)
    under_rain = green_ampt_mm(1.0, rain_mm_h=2 * IN, **SANDY_LOAM) / IN
    assert under_rain == pytest.approx(1.2156, abs=1e-3)
    assert 2.0 - under_rain == pytest.approx(0.7844, abs=1e-3)
    # Rate at 1 h: 0.7964 in/h.
    slope = (green_ampt_mm(1.0005, **SANDY_LOAM) - green_ampt_mm(0.9995, **SANDY_LOAM)) / 0.001 / IN
    assert slope == pytest.approx(0.7964, abs=1e-3)
    # Ponding at 0.1482 h, 0.2965 in: all of the rain until then, less after it.
    assert green_ampt_mm(0.148, rain_mm_h=2 * IN, **SANDY_LOAM) == pytest.approx(0.296 * IN, abs=1e-9)
    assert green_ampt_mm(0.16, rain_mm_h=2 * IN, **SANDY_LOAM) < 0.32 * IN - 1e-4


@pytest.mark.parametrize("hours", [0.0, 1e-6, 0.3, 7.0, 200.0])
def test_green_ampt_solves_its_equation(hours):
    pull = SANDY_LOAM["suction_mm"] * SANDY_LOAM["deficit_frac"]
    taken = green_ampt_mm(hours, **SANDY_LOAM)
    other = brentq(
        lambda f: f - pull * math.log1p(f / pull) - SANDY_LOAM["conductivity_mm_h"] * hours, 0, 1e5, xtol=1e-13
    )
    assert taken == pytest.approx(other, rel=1e-6, abs=1e-9)
    assert green_ampt_mm(hours, rain_mm_h=5.0, **SANDY_LOAM) == pytest.approx(5.0 * hours)  # below K: all of it


@pytest.mark.parametrize(
    ("low", "high", "shown"),
    [
        (12.34, 187.0, (12.0, 190.0)),
        (0.0, 0.0119, (0.0, 0.012)),
        (120.0, 120.0, (120.0, 120.0)),
        (0.3, 0.7, (0.3, 0.7)),
        (1.101, 1.99, (1.1, 2.0)),
        (99.1, 99.9, (99.0, 100.0)),
    ],
)
def test_rounding_goes_outward(low, high, shown):
    rounded = round_outward(Range(low, high))
    assert (rounded.low, rounded.high) == pytest.approx(shown)
    assert rounded.low <= low and rounded.high >= high


def test_a_range_runs_from_low_to_high():
    assert Range(1.0, 2.0) + Range(3.0, 4.0) == Range(4.0, 6.0)
    assert Range(1.0, 2.0) * Range(3.0, 4.0) == Range(3.0, 8.0)
    for low, high in ((2.0, 1.0), (-1.0, 1.0), (0.0, float("inf")), (float("nan"), 1.0)):
        with pytest.raises(InputError):
            Range(low, high)
