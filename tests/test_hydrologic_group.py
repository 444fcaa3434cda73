import math

import pytest

from screening.errors import InputError
from screening.hydrologic_group import hydrologic_group

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
