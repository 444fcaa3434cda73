"""Hazard classes by depth, speed and their product."""

import numpy as np
import pytest

from screening.motion.hazard import hazard_classes


@pytest.mark.parametrize(
    ("depth", "speed", "product", "expected"),
    [
        (0.30, 1.00, 0.30, 1),
        (0.31, 0.10, 0.03, 2),
        (0.40, 1.00, 0.40, 2),
        (0.60, 0.50, 0.30, 3),
        (1.30, 0.10, 0.13, 4),
        (0.50, 1.90, 0.95, 4),
        (0.30, 2.10, 0.63, 5),
        (2.10, 0.10, 0.21, 5),
        (4.10, 0.10, 0.41, 6),
        (0.50, 4.50, 2.25, 6),
        (2.50, 2.00, 5.00, 6),
        (0.009, 3.0, 0.027, 0),
    ],
)
def test_a_place_has_the_class_of_the_worst_of_the_three(depth, speed, product, expected):
    """Limits of Guideline 7-3 (2017), from memory: each row by hand."""
    assert int(hazard_classes(depth, speed, product, wet_depth_m=0.01)) == expected


def test_what_is_not_assessed_is_dry():
    found = hazard_classes([np.nan, 0.5], [np.nan, 0.0], [np.nan, 0.0], wet_depth_m=0.01)
    assert found.tolist() == [0, 2]
