"""Storms and storages for the tests, and a peer that routes by small steps of a general solver."""

import numpy as np
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from screening.schema.codes.storage import SectionShape
from screening.storage.gallery import Gallery, Layer, chamber_gallery, stone_bed
from screening.storage.inflow import Inflow
from screening.storage.sections import Section

ARCH = Section(width_m=1.2, height_m=0.762, shape=SectionShape.HALF_ELLIPSE)


def bed(length_m=6.0, width_m=2.5, depth_m=0.9, void_frac=0.4):
    return stone_bed(length_m=length_m, width_m=width_m, depth_m=depth_m, void_frac=void_frac)


def chambers(n_in_row=2, n_rows=2):
    return chamber_gallery(ARCH, chamber_length_m=2.0, n_in_row=n_in_row, n_rows=n_rows, void_frac=0.4)


def inflow(*volumes_m3, step_h=0.5):
    return Inflow(step_h, np.array(volumes_m3, np.float64))


inflows = st.builds(
    lambda volumes, step_h: inflow(*volumes, step_h=step_h),
    st.lists(st.floats(0.0, 20.0), min_size=1, max_size=30),
    st.floats(0.01, 3.0),
)
layer_sets = st.lists(
    st.builds(lambda depth, voids: Layer(depth_m=depth, void_frac=voids), st.floats(0.05, 1.5), st.floats(0.05, 1.0)),
    min_size=1,
    max_size=4,
)
galleries = st.one_of(
    st.builds(
        lambda length, width, layers: Gallery(length_m=length, width_m=width, layers=tuple(layers)),
        st.floats(0.5, 20.0),
        st.floats(0.5, 20.0),
        layer_sets,
    ),
    st.builds(chambers, st.integers(1, 5), st.integers(1, 3)),
)
rates = st.one_of(st.just(0.0), st.floats(1e-3, 500.0))


def peer_stored_m3(flow: Inflow, gallery: Gallery, rate_mm_h: float, *, with_sides: bool) -> np.ndarray:
    """Water held at the end of each step where it neither empties nor overflows, by a Runge-Kutta solver."""
    levels = np.linspace(0.0, gallery.depth_m, 4001)
    volumes = np.array([gallery.volume_m3(level) for level in levels])

    def change(time, held):
        level = np.interp(held[0], volumes, levels)
        wet = gallery.footprint_m2 + (gallery.perimeter_m * level if with_sides else 0.0)
        return [rate_in - rate_mm_h / 1000.0 * wet]

    held, found = 0.0, []
    for volume in flow.volume_m3:
        rate_in = volume / flow.step_h
        held = solve_ivp(change, (0.0, flow.step_h), [held], rtol=1e-9, atol=1e-12).y[0, -1]
        found.append(held)
    return np.array(found)
