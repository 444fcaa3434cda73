import numpy as np
import pytest
from scipy.integrate import quad

from screening.errors import InputError
from screening.storage.gallery import ChamberRows, Gallery, Layer, chamber_gallery, stone_bed
from screening.storage.sections import Section
from screening.units import M3_PER_FT3, M_PER_FT

ARCH = Section(width_m=1.2, height_m=0.762, shape="half-ellipse")  # 30 in high
GAL_PER_FT3 = 1728.0 / 231.0  # 1 US gallon = 231 cubic inches


def test_stone_bed_holds_length_width_depth_voids():
    # 20 x 5 x 3 ft at 0.4: 120 cu ft = 897.7 gal, by arithmetic.
    bed = stone_bed(length_m=20 * M_PER_FT, width_m=5 * M_PER_FT, depth_m=3 * M_PER_FT, void_frac=0.4)
    assert bed.capacity_m3 / M3_PER_FT3 == pytest.approx(120.0, abs=0.01)
    assert bed.capacity_m3 / M3_PER_FT3 * GAL_PER_FT3 == pytest.approx(897.7, abs=0.1)
    assert bed.volume_m3(bed.depth_m / 3) == pytest.approx(bed.capacity_m3 / 3)
    assert bed.volume_m3(-1.0) == 0.0 and bed.volume_m3(99.0) == bed.capacity_m3


def test_layers_hold_by_their_own_voids():
    layers = (Layer(depth_m=0.5, void_frac=0.4), Layer(depth_m=0.3, void_frac=0.95), Layer(depth_m=0.2, void_frac=0.1))
    gallery = Gallery(length_m=5.0, width_m=2.0, layers=layers)
    assert gallery.volume_m3(0.5) == pytest.approx(2.0)
    assert gallery.volume_m3(0.7) == pytest.approx(2.0 + 1.9)
    assert gallery.capacity_m3 == pytest.approx(2.0 + 2.85 + 0.2)
    assert gallery.breaks_m() == pytest.approx((0.0, 0.5, 0.8, 1.0))
    assert gallery.fill_m3 == pytest.approx(10.0)


def test_chambers_take_the_place_of_stone():
    gallery = chamber_gallery(ARCH, chamber_length_m=2.0, n_in_row=3, n_rows=2, void_frac=0.4)
    inside = 2 * 6.0 * ARCH.area_below_m2(1.0)
    gross = gallery.footprint_m2 * gallery.depth_m
    assert gallery.capacity_m3 == pytest.approx(inside + 0.4 * (gross - inside))
    assert gallery.fill_m3 == pytest.approx(gross - inside)
    # 12 in + 30 in + 6 in of common practice: the storage alone is 4 ft deep, so its pit is deeper.
    assert gallery.depth_m == pytest.approx(4 * M_PER_FT)
    assert gallery.width_m == pytest.approx(2 * 1.2 + 0.1524 + 2 * 0.3048)


@pytest.mark.parametrize("level_m", [0.1, 0.3048, 0.5, 0.9, 1.0668, 1.2])
def test_volume_is_the_integral_of_the_open_plan_area(level_m):
    gallery = chamber_gallery(ARCH, chamber_length_m=2.0, n_in_row=3, n_rows=2, void_frac=0.4)

    def open_m2(z):
        up = (z - 0.3048) / 0.762
        chambers = 2 * 6.0 * 1.2 * np.sqrt(1 - up**2) if 0 <= up <= 1 else 0.0
        return chambers + 0.4 * (gallery.footprint_m2 - chambers)

    volume, _ = quad(open_m2, 0.0, level_m, points=[p for p in (0.3048, 1.0668) if p < level_m], limit=200)
    assert gallery.volume_m3(level_m) == pytest.approx(volume, rel=1e-7)


def test_the_knots_of_the_curve_stay_near_the_exact_volume():
    gallery = chamber_gallery(ARCH, chamber_length_m=2.0, n_in_row=3, n_rows=2, void_frac=0.4)
    knots = gallery.breaks_m()
    assert knots[0] == 0.0 and knots[-1] == gallery.depth_m and min(np.diff(knots)) > 1e-6
    levels = np.linspace(0.0, gallery.depth_m, 999)
    exact = np.array([gallery.volume_m3(level) for level in levels])
    between = np.interp(levels, knots, [gallery.volume_m3(level) for level in knots])
    assert np.abs(between - exact).max() < 1e-3 * gallery.capacity_m3


@pytest.mark.parametrize(
    "make",
    [
        lambda: Layer(depth_m=0.0, void_frac=0.4),
        lambda: Layer(depth_m=1.0, void_frac=1.1),
        lambda: Gallery(length_m=1.0, width_m=1.0, layers=()),
        lambda: stone_bed(length_m=-1.0, width_m=1.0, depth_m=1.0, void_frac=0.4),
        lambda: chamber_gallery(ARCH, chamber_length_m=2.0, n_in_row=0, n_rows=1, void_frac=0.4),
        lambda: Gallery(
            length_m=5.0,
            width_m=1.1,
            layers=(Layer(depth_m=2.0, void_frac=0.4),),
            rows=ChamberRows(section=ARCH, n_rows=1, row_length_m=4.0, base_m=0.3),
        ),
        lambda: Gallery(
            length_m=5.0,
            width_m=2.0,
            layers=(Layer(depth_m=1.0, void_frac=0.4),),
            rows=ChamberRows(section=ARCH, n_rows=1, row_length_m=4.0, base_m=0.3),
        ),
    ],
)
def test_impossible_storage_is_refused(make):
    with pytest.raises(InputError):
        make()
