from pathlib import Path

import numpy as np
import pytest

from screening.errors import InputError
from screening.models import RainfallTable
from screening.report.words.storage import rain_distribution
from screening.schema.codes.storage import RainDistribution
from screening.schema.criteria import RAINFALL_DISTRIBUTIONS
from screening.storage.hyetographs import Hyetograph, nested_hyetograph, nrcs_hyetograph, uniform_hyetograph
from screening.storm.rainfall_tables import rain_depth_mm

NRCS_TABLE = Path(__file__).parents[1] / "tables" / "nrcs_24h_distributions.csv"

# NOAA Atlas 14, Fort Myers, 10-year partial duration series: 0.822 in in 5 min, 1.20 in 10, 1.47 in 15, 2.37 in 30,
# 3.13 in 60 min.
TABLE = RainfallTable(
    durations_h=(5 / 60, 10 / 60, 15 / 60, 0.5, 1.0),
    return_periods_yr=(10.0, 25.0),
    depth_mm=tuple((25.4 * depth, 30.0 * depth) for depth in (0.822, 1.20, 1.47, 2.37, 3.13)),
    source="NOAA Atlas 14, point table",
)


def depth_of_mm(hours):
    return rain_depth_mm(TABLE, return_period_yr=10.0, duration_h=hours)


def test_uniform_rain_is_even_and_whole():
    storm = uniform_hyetograph(60.0, duration_h=2.0, step_h=0.5)
    assert storm.rain_mm.tolist() == [15.0] * 4 and storm.step_h == 0.5
    odd = uniform_hyetograph(10.0, duration_h=1.0, step_h=0.3)
    assert (odd.rain_mm.size, odd.step_h) == (4, 0.25) and odd.depth_mm == pytest.approx(10.0)
    assert uniform_hyetograph(10.0, duration_h=24.0).rain_mm.size == 288


@pytest.mark.parametrize("step_min", [5, 2.5, 12])
def test_nested_rain_holds_the_depth_of_every_duration(step_min):
    storm = nested_hyetograph(depth_of_mm, duration_h=1.0, step_h=step_min / 60)
    assert storm.depth_mm == pytest.approx(3.13 * 25.4)
    for number in range(1, storm.rain_mm.size + 1):
        heaviest = np.convolve(storm.rain_mm, np.ones(number), "valid").max()
        assert heaviest >= depth_of_mm(number * storm.step_h) - 1e-9
    peak = int(storm.rain_mm.argmax())
    assert abs(peak - (storm.rain_mm.size - 1) / 2) <= 0.5
    assert (np.diff(storm.rain_mm[: peak + 1]) >= 0).all() and (np.diff(storm.rain_mm[peak:]) <= 0).all()


def test_nested_blocks_alternate_after_and_before_the_heaviest():
    # Depths 10, 16, 20, 22, 23 mm: blocks 10, 6, 4, 2, 1.
    storm = nested_hyetograph({1: 10.0, 2: 16.0, 3: 20.0, 4: 22.0, 5: 23.0}.__getitem__, duration_h=5.0, step_h=1.0)
    assert storm.rain_mm.tolist() == [1.0, 4.0, 10.0, 6.0, 2.0]


def test_type_ii_falls_mostly_about_noon():
    storm = nrcs_hyetograph(100.0, step_h=0.5)
    fallen = np.cumsum(storm.rain_mm)
    assert storm.depth_mm == pytest.approx(100.0)
    # TR-55 (1986), appendix B: 0.283 by 11.5 h, 0.663 by 12 h, 0.735 by 12.5 h.
    assert fallen[[22, 23, 24]] == pytest.approx([28.3, 66.3, 73.5])
    assert storm.distribution is RainDistribution.NRCS_II and storm.duration_h == 24.0
    assert rain_distribution(storm.distribution, storm.duration_h) == "NRCS Type II over 24 h"
    assert storm.rain_mm.argmax() == 23


@pytest.mark.parametrize("distribution", RAINFALL_DISTRIBUTIONS)
def test_nrcs_distributions_are_those_of_the_table(distribution):
    table = np.genfromtxt(NRCS_TABLE, delimiter=",", names=True)
    hours, published = table["hour"], table[distribution]
    fallen = np.concatenate([[0.0], np.cumsum(nrcs_hyetograph(1.0, distribution, step_h=0.25).rain_mm)])
    assert fallen[np.round(hours * 4).astype(int)] == pytest.approx(published, abs=1e-12)


# A municipal drainage manual that prints Type III in steps of 5 minutes: 0.0050 by 0.5 h, 0.1284 by 8.5 h, 0.1458 by
# 9 h, 0.8903 by 16 h 10 min; its figures come from another table of the same distribution.
@pytest.mark.parametrize(("hour", "printed"), [(0.5, 0.0050), (8.5, 0.1284), (9.0, 0.1458), (16 + 1 / 6, 0.8903)])
def test_type_iii_agrees_with_another_print_of_it(hour, printed):
    fallen = np.concatenate([[0.0], np.cumsum(nrcs_hyetograph(1.0, "III", step_h=1 / 12).rain_mm)])
    assert fallen[round(hour * 12)] == pytest.approx(printed, abs=0.0025)


def test_type_ii_falls_hardest_and_ia_least():
    most = {name: nrcs_hyetograph(1.0, name, step_h=0.5).rain_mm.max() for name in RAINFALL_DISTRIBUTIONS}
    assert sorted(most, key=most.get) == ["IA", "III", "I", "II"]


def test_there_is_no_other_distribution():
    with pytest.raises(InputError, match="I, IA, II, III"):
        nrcs_hyetograph(50.0, "IV")


@pytest.mark.parametrize(
    "make",
    [
        lambda: uniform_hyetograph(0.0, duration_h=1.0),
        lambda: uniform_hyetograph(10.0, duration_h=0.0),
        lambda: nested_hyetograph(lambda hours: 10.0 - hours, duration_h=1.0),
        lambda: Hyetograph(0.1, np.array([1.0, -1.0]), RainDistribution.UNIFORM),
        lambda: Hyetograph(0.1, np.array([]), RainDistribution.UNIFORM),
    ],
)
def test_impossible_rain_is_refused(make):
    with pytest.raises(InputError):
        make()
