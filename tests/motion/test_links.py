"""Drains and pipes take at most what they can, from water that stands over their sill."""

import numpy as np
import pytest

from screening.errors import InputError
from screening.models import Intake
from screening.motion.links import Link, least_capacity_m3_s, links_of
from screening.schema.criteria import Criteria
from screening.terrain.surface import build_surface
from tests.blocks import box, line, make_block
from tests.motion.runs import move

INFLOW_M3_S = 0.001 * 7


def _street(cap_m3_s, *, end_s=1800.0, outlet=-1):
    """A street of 5 % with a trench across it; water comes in at its head."""
    elev = np.tile((60 - np.arange(60)) * 0.05, (9, 1))
    elev[:, 40] -= 0.3
    is_wall = np.zeros(elev.shape, bool)
    is_wall[0] = is_wall[-1] = True
    supply = np.zeros(elev.shape)
    supply[1:-1, 2] = 0.001
    cells = np.arange(1, 8) * 60 + 40
    drain = Link(name="drain", cells=cells, crest_m=np.full(7, -np.inf), outlet=outlet, capacity_m3_s=cap_m3_s)
    return move(elev, end_s=end_s, rain_m_s=supply, is_wall=is_wall, roughness_n=0.03, links=[drain])


@pytest.mark.parametrize("cap_m3_s", [0.0, 0.0005, 0.002, 0.1])
def test_a_drain_takes_the_less_of_what_comes_and_what_it_can(cap_m3_s):
    early, late = _street(cap_m3_s), _street(cap_m3_s, end_s=2700.0)
    rate = (late.links[0].taken_m3 - early.links[0].taken_m3) / 900.0
    assert rate == pytest.approx(min(INFLOW_M3_S, cap_m3_s), rel=1e-3, abs=1e-9)
    assert late.links[0].peak_m3_s <= cap_m3_s * (1 + 1e-3)  # cells are float32
    assert late.balance.link_m3 == pytest.approx(late.links[0].taken_m3)
    assert late.balance.error_worst_frac < 1e-4


def test_what_a_drain_takes_comes_out_at_its_outlet():
    found = _street(0.002, outlet=4 * 60 + 55)
    assert found.links[0].taken_m3 > 1.0
    assert found.balance.link_m3 == 0.0
    assert found.balance.error_worst_frac < 1e-4
    assert found.depth_max_m[4, 55] > 2 * found.depth_max_m[4, 50]


def test_a_pipe_between_two_pools_evens_them_out_and_no_more():
    elev = np.full((3, 11), 5.0)
    elev[1, 1:5] = elev[1, 6:10] = 0.0
    depth = np.zeros(elev.shape)
    depth[1, 1:5] = 1.0
    pipe = Link(name="pipe", cells=np.array([15]), crest_m=np.array([0.0]), outlet=17, capacity_m3_s=0.05)
    found = move(elev, end_s=600.0, depth_m=depth, links=[pipe])
    assert found.depth_m[1, 1:5] == pytest.approx(0.5, abs=0.01)
    assert found.depth_m[1, 6:10] == pytest.approx(0.5, abs=0.01)


def test_a_pipe_takes_nothing_below_its_crest():
    elev = np.full((3, 11), 5.0)
    elev[1, 1:5] = elev[1, 6:10] = 0.0
    depth = np.zeros(elev.shape)
    depth[1, 1:5] = 1.0
    pipe = Link(name="pipe", cells=np.array([15]), crest_m=np.array([0.8]), outlet=17, capacity_m3_s=0.002)
    found = move(elev, end_s=600.0, depth_m=depth, links=[pipe])
    assert found.depth_m[1, 1:5] == pytest.approx(0.8, abs=0.01)


def test_the_least_part_of_a_drain_is_its_capacity():
    assert least_capacity_m3_s(grate_m3_s=0.02, channel_m3_s=0.012, pipe_m3_s=0.016) == 0.012


def _block_with_drains():
    elev = np.tile(5.0 - 0.05 * np.arange(30), (20, 1))
    culvert = ("C1", "culvert", np.nan, np.nan, np.nan, line([(10, 5), (10, 15)]))
    trench = Intake(
        intake_id="D1", kind="trench drain", line=line([(5, 20), (8, 20)]), outlet=box(6, 27, 7, 28).centroid
    )
    sink = Intake(intake_id="D2", kind="trench drain", line=line([(15, 3), (15, 6)]))
    block = make_block(elev, drains=[culvert])
    return type(block)(**{**vars(block), "intakes": (trench, sink)})


def test_the_links_of_a_block_are_its_pipes_and_its_drains():
    block = _block_with_drains()
    surface = build_surface(block, criteria=Criteria())
    links = {link.name: link for link in links_of(block, surface, {"trench drain D1": 0.01}, pipe_m3_s=0.4)}
    assert set(links) == {"culvert C1", "trench drain D1", "trench drain D2"}
    assert links["trench drain D1"].capacity_m3_s == 0.01 and links["trench drain D1"].cells.size == 4
    assert links["culvert C1"].capacity_m3_s == 0.4 and links["culvert C1"].cells.size == 1
    assert (
        links["trench drain D2"].outlet == -1
        and links["trench drain D2"].capacity_m3_s == np.inf
        and links["trench drain D2"].cells.size == 4
    )


def test_a_capacity_of_what_is_no_link_is_refused():
    block = _block_with_drains()
    surface = build_surface(block, criteria=Criteria())
    with pytest.raises(InputError, match=r"no link.*culvert C9.*culvert C1"):
        links_of(block, surface, {"culvert C9": 0.01}, pipe_m3_s=0.4)


def test_a_link_into_a_wall_or_below_nothing_is_refused():
    is_wall = np.zeros((3, 4), bool)
    is_wall[1, 2] = True
    pipe = Link(name="pipe", cells=np.array([5]), crest_m=np.array([0.0]), outlet=6)
    with pytest.raises(InputError, match="pipe begins or ends in a wall"):
        move(np.zeros((3, 4)), end_s=1.0, is_wall=is_wall, links=[pipe])
    with pytest.raises(InputError, match="capacity of pipe"):
        Link(name="pipe", cells=np.array([5]), crest_m=np.array([0.0]), capacity_m3_s=-1.0)
