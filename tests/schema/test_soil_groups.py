import math

import pytest

from screening.errors import InputError
from screening.schema.soil_groups import hydrologic_group
from screening.units import MM_H_PER_UM_S, MM_PER_IN

# NRCS NEH 630 chapter 7, Table 7-1 (Ksat in um/s, depths in cm), with every boundary: an upper limit belongs to the
# lower group ("more than 40" is A), a depth of exactly 50 cm is not "less than 50".
CASES = [
    # impermeable, water table, ksat, group
    (49.9, 200, 500, "D"),
    (30, 20, 500, "D"),
    (50, 59.9, 40.1, "A/D"),
    (50, 59.9, 40.0, "B/D"),
    (75, 20, 10.1, "B/D"),
    (75, 20, 10.0, "C/D"),
    (100, 30, 1.1, "C/D"),
    (100, 30, 1.0, "D"),
    (50, 60, 40.1, "A"),
    (75, 60, 40.0, "B"),
    (75, 200, 10.0, "C"),
    (100, 200, 1.0, "D"),
    (100.1, 59.9, 10.1, "A/D"),
    (150, 30, 10.0, "B/D"),
    (150, 30, 4.0, "C/D"),
    (150, 30, 0.4, "D"),
    (150, 60, 40.1, "A"),
    (150, 60, 40.0, "B"),
    (150, 100, 10.0, "C"),
    (150, 100, 1.0, "D"),
    (150, 100.1, 10.1, "A"),
    (150, 100.1, 10.0, "B"),
    (150, 100.1, 4.0, "C"),
    (math.inf, math.inf, 0.41, "C"),
    (math.inf, math.inf, 0.4, "D"),
]


@pytest.mark.parametrize(("impermeable", "water", "ksat", "group"), CASES)
def test_table(impermeable, water, ksat, group):
    assert hydrologic_group(ksat_um_s=ksat, impermeable_depth_cm=impermeable, water_table_depth_cm=water) == group


def test_values_that_cannot_be():
    for wrong in (-1.0, math.nan):
        with pytest.raises(InputError, match="cannot be used"):
            hydrologic_group(ksat_um_s=wrong, impermeable_depth_cm=100, water_table_depth_cm=100)


# The whole of Table 7-1: depth to an impermeable layer and to water [cm], lower limits of A, B and C [um/s], and
# whether the group is a dual one. Both ends of each range of depths, to the last tenth.
ROWS = [
    ((50.0, 100.0), (0.0, 59.9), (40.0, 10.0, 1.0), True),
    ((50.0, 100.0), (60.0, math.inf), (40.0, 10.0, 1.0), False),
    ((100.1, math.inf), (0.0, 59.9), (10.0, 4.0, 0.4), True),
    ((100.1, math.inf), (60.0, 100.0), (40.0, 10.0, 1.0), False),
    ((100.1, math.inf), (100.1, math.inf), (10.0, 4.0, 0.4), False),
]
CORNERS = [
    (impermeable, water, limits, is_dual)
    for impermeables, waters, limits, is_dual in ROWS
    for impermeable in impermeables
    for water in waters
]


@pytest.mark.parametrize(("impermeable", "water", "limits", "is_dual"), CORNERS)
def test_every_limit_belongs_to_the_lower_group(impermeable, water, limits, is_dual):
    for number, limit in enumerate(limits):
        for ksat, group in ((limit * 1.001, "ABC"[number]), (limit, "BCD"[number])):
            expected = f"{group}/D" if is_dual and group != "D" else group
            depths = {"impermeable_depth_cm": impermeable, "water_table_depth_cm": water}
            assert hydrologic_group(ksat_um_s=ksat, **depths) == expected, (ksat, depths)


@pytest.mark.parametrize("water", [0.0, 59.9, 60.0, 100.0, 100.1, math.inf])
@pytest.mark.parametrize("ksat", [0.0, 0.4, 1.0, 4.0, 10.0, 40.0, 1000.0])
def test_ground_over_a_shallow_layer_is_d(water, ksat):
    for impermeable, is_d in ((0.0, True), (49.9, True), (50.0, ksat <= 1.0)):
        group = hydrologic_group(ksat_um_s=ksat, impermeable_depth_cm=impermeable, water_table_depth_cm=water)
        assert (group == "D") is is_d


def test_rates_of_the_table_in_other_units():
    # NEH 630 chapter 7: 40.0, 10.0 and 1.0 um/s are 5.67, 1.42 and 0.14 in/h; 4.0 and 0.40 are 0.57 and 0.06.
    for um_s, in_h in ((40.0, 5.67), (10.0, 1.42), (1.0, 0.14), (4.0, 0.57), (0.40, 0.06)):
        assert um_s * MM_H_PER_UM_S / MM_PER_IN == pytest.approx(in_h, abs=0.005)
    per_um_s = MM_H_PER_UM_S / MM_PER_IN
    assert per_um_s == pytest.approx(0.141732, abs=5e-7)
