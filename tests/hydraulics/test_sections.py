import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import fixed_quad

from screening.errors import InputError
from screening.hydraulics.sections import PipeSection, TrenchSection
from tests.hydraulics.us import FT

MEASURES = st.floats(0.01, 2.0)


def test_trapezoid_of_hec22_example_5_1():
    # HEC-22 (2009) example 5-1, p. 5-6: B 2.62 ft, z 3, d 1.64 ft; A 12.4 ft2, P 13.0 ft, R 0.95 ft.
    ditch = TrenchSection.with_side_slope(2.62 * FT, side_slope=3.0, depth_m=1.64 * FT)
    area, perimeter = ditch.area_m2(1.64 * FT), ditch.wetted_perimeter_m(1.64 * FT)
    assert area / FT**2 == pytest.approx(12.4, abs=0.05)
    assert perimeter / FT == pytest.approx(13.0, abs=0.05)
    assert area / perimeter / FT == pytest.approx(0.95, abs=0.005)
    assert ditch.surface_width_m(1.64 * FT) == pytest.approx(ditch.top_width_m)


def test_rectangle_by_hand():
    trench = TrenchSection(0.2, 0.2, 0.3)
    assert trench.side_slope == 0.0
    assert trench.area_m2(0.1) == pytest.approx(0.02)
    assert trench.wetted_perimeter_m(0.1) == pytest.approx(0.4)
    # Centroid half the depth below the surface.
    assert trench.area_moment_m3(0.1) == pytest.approx(0.02 * 0.05)


def integral(function, high):
    """Gauss's rule with 20 points: exact for polynomials."""
    return fixed_quad(np.vectorize(function), 0.0, high, n=20)[0]


@given(base=MEASURES, extra=st.floats(0.0, 2.0), depth=MEASURES, share=st.floats(0.0, 1.5))
def test_area_is_the_integral_of_width_and_the_moment_that_of_area(base, extra, depth, share):
    trench = TrenchSection(base, base + extra, depth)
    water = share * depth
    assert trench.area_m2(water) == pytest.approx(integral(trench.surface_width_m, water), rel=1e-9)
    assert trench.area_moment_m3(water) == pytest.approx(integral(trench.area_m2, water), rel=1e-9)


@given(diameter=MEASURES, share=st.floats(0.02, 0.98))
def test_pipe_area_is_the_integral_of_width(diameter, share):
    pipe, radius = PipeSection(diameter), diameter / 2.0

    # Over the angle from the lowest point the width is smooth; over the depth it is not.
    def strip(angle):
        return pipe.surface_width_m(radius * (1.0 - math.cos(angle))) * radius * math.sin(angle)

    found = integral(strip, math.acos(1.0 - 2.0 * share))
    assert pipe.area_m2(share * diameter) == pytest.approx(found, rel=1e-8)


def test_pipe_full_half_full_and_empty():
    pipe = PipeSection(0.3)
    assert pipe.area_m2(0.3) == pytest.approx(math.pi * 0.09 / 4.0)
    assert pipe.wetted_perimeter_m(0.3) == pytest.approx(math.pi * 0.3)
    assert pipe.surface_width_m(0.3) == 0.0
    assert pipe.area_m2(0.15) == pytest.approx(math.pi * 0.09 / 8.0)
    assert pipe.surface_width_m(0.15) == pytest.approx(0.3)
    assert pipe.area_m2(0.0) == pipe.wetted_perimeter_m(0.0) == 0.0
    assert pipe.area_m2(0.4) == pipe.area_m2(0.3)


@pytest.mark.parametrize(
    ("measures", "words"),
    [
        ((-0.1, 0.2, 0.3), "base_width_m"),
        ((0.0, 0.0, 0.3), "top_width_m"),
        ((0.3, 0.2, 0.3), "may not be less than the base width"),
        ((0.2, 0.2, 0.0), "depth_m"),
        ((0.2, float("nan"), 0.3), "top_width_m"),
    ],
)
def test_impossible_trenches_are_refused(measures, words):
    with pytest.raises(InputError, match=words):
        TrenchSection(*measures)


@pytest.mark.parametrize("diameter", [0.0, -0.1, float("inf")])
def test_impossible_pipes_are_refused(diameter):
    with pytest.raises(InputError, match="diameter_m"):
        PipeSection(diameter)
