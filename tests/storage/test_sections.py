import math

import numpy as np
import pytest
from scipy.integrate import quad

from screening.errors import InputError
from screening.storage.sections import Section, sloping_pipe_volume_m3

SECTIONS = [
    (Section(width_m=2.0, height_m=1.5, shape="box"), lambda z: 2.0),
    (Section(width_m=2.0, height_m=1.5, shape="arch"), lambda z: 2.0 * math.sqrt(1 - z / 1.5)),
    (Section(width_m=2.0, height_m=1.5, shape="half-ellipse"), lambda z: 2.0 * math.sqrt(1 - (z / 1.5) ** 2)),
    (Section(width_m=1.5, height_m=1.5, shape="round"), lambda z: 2.0 * math.sqrt(z * (1.5 - z))),
]


@pytest.mark.parametrize(("section", "width_m"), SECTIONS)
@pytest.mark.parametrize("level_m", [0.0, 0.3, 0.75, 1.2, 1.5])
def test_area_is_the_integral_of_the_width(section, width_m, level_m):
    area, _ = quad(width_m, 0.0, level_m, epsabs=1e-12)
    assert section.area_below_m2(level_m) == pytest.approx(area, abs=1e-8)


@pytest.mark.parametrize(
    ("shape", "area_m2"),
    [("box", 3.0), ("arch", 2.0), ("half-ellipse", math.pi * 1.5 / 2.0)],
)
def test_full_areas_are_those_of_geometry(shape, area_m2):
    section = Section(width_m=2.0, height_m=1.5, shape=shape)
    assert section.area_below_m2(9.0) == section.area_below_m2(1.5) == pytest.approx(area_m2)
    assert section.area_below_m2(-1.0) == 0.0


@pytest.mark.parametrize("area_m2", [0.4, 1.5, 2.0, 2.9, 3.0])
def test_a_given_area_is_met_and_rises_with_the_level(area_m2):
    section = Section(width_m=2.0, height_m=1.5, shape="given area", area_m2=area_m2)
    areas = np.array([section.area_below_m2(level) for level in np.linspace(0.0, 1.5, 31)])
    assert areas[-1] == pytest.approx(area_m2)
    assert (np.diff(areas) > 0.0).all() and (np.diff(areas) <= 2.0 * 0.05 + 1e-12).all()
    assert (np.diff(areas, 2) <= 1e-12).all()  # widest at its base


def test_a_parabola_is_the_arch_of_two_thirds():
    arch = Section(width_m=2.0, height_m=1.5, shape="arch")
    given = Section(width_m=2.0, height_m=1.5, shape="given area", area_m2=2.0)
    assert given.area_below_m2(0.7) == pytest.approx(arch.area_below_m2(0.7), rel=1e-12)


@pytest.mark.parametrize(
    "sizes",
    [
        {"width_m": 0.0, "height_m": 1.0, "shape": "box"},
        {"width_m": 1.0, "height_m": float("nan"), "shape": "box"},
        {"width_m": 1.0, "height_m": 1.0, "shape": "star"},
        {"width_m": 1.0, "height_m": 0.9, "shape": "round"},
        {"width_m": 1.0, "height_m": 1.0, "shape": "given area"},
        {"width_m": 1.0, "height_m": 1.0, "shape": "given area", "area_m2": 1.1},
        {"width_m": 1.0, "height_m": 1.0, "shape": "box", "area_m2": 1.0},
    ],
)
def test_impossible_sections_are_refused(sizes):
    if sizes["shape"] == "given area" and "area_m2" not in sizes:
        sizes = sizes | {"area_m2": None}
    with pytest.raises(InputError):
        Section(**sizes)


@pytest.mark.parametrize(
    ("depth_m", "printed_m3", "exact_m3"),
    # HEC-22, 3rd edition, example 8-3 (p. 8-19): 1.5 m pipe, slope 0.01, 250 m.
    [(1.5, 132.54, 132.54), (0.8, 32.9, 32.73), (1.0, 55.0, 54.86)],
)
def test_water_in_a_sloping_pipe_is_that_of_hec_22(depth_m, printed_m3, exact_m3):
    volume = sloping_pipe_volume_m3(diameter_m=1.5, length_m=250.0, slope=0.01, depth_m=depth_m)
    assert volume == pytest.approx(printed_m3, rel=0.01)
    assert volume == pytest.approx(exact_m3, abs=0.01)


def test_a_sloping_pipe_fills_to_its_whole_volume():
    full = math.pi * 0.5**2 * 20.0
    assert sloping_pipe_volume_m3(diameter_m=1.0, length_m=20.0, slope=0.01, depth_m=1.2) == pytest.approx(full)
    assert sloping_pipe_volume_m3(diameter_m=1.0, length_m=20.0, slope=0.01, depth_m=0.6) == pytest.approx(
        quad(lambda x: Section(width_m=1.0, height_m=1.0, shape="round").area_below_m2(0.6 - 0.01 * x), 0, 20)[0]
    )
