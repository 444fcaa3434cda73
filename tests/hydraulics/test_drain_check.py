import dataclasses
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from screening.errors import InputError
from screening.hydraulics.channel import Channel
from screening.hydraulics.drain_check import assess_trench_drain
from screening.hydraulics.drain_site import DRAIN_CAUTIONS, DrainSite
from screening.hydraulics.grates import Grate
from screening.hydraulics.outlet import OutletPipe
from screening.hydraulics.sections import TrenchSection
from screening.hydraulics.trench_drain import TrenchDrain, find_capacities
from screening.report.words.hydraulics import reason_words
from screening.schema.codes.hydraulics import CheckReason, DrainCaution
from screening.schema.criteria import Criteria
from screening.units import format_value
from tests.hydraulics.us import CFS, FT, GPM, IN

CRITERIA = Criteria()
# Common practice, no published source, for the measures of a heavy channel and its 6 in outlet.
HEAVY = TrenchDrain(
    channel=Channel(section=TrenchSection(6.5 * IN, 9 * IN, 14.5 * IN), length_m=20 * FT),
    grate=Grate(width_m=9 * IN, length_m=20 * FT, open_frac=0.4),
    pipe=OutletPipe(diameter_m=6 * IN, length_m=40 * FT, fall_m=0.5 * FT),
)
# A driveway of 20 x 60 ft, C 0.9, 7 in/h: 0.1736 cfs by Q = CiA, 77.9 gallons a minute.
DRIVEWAY = 0.9 * (7 * IN / 3600) * (20 * 60 * FT**2)


def row(assessment, statistic):
    found = [line for line in assessment.rows if line.statistic == statistic]
    assert found, statistic
    return found[0]


def test_inflow_of_a_driveway():
    # With the exact factor of acre-inches an hour, 0.175 cfs.
    assert pytest.approx(0.1736 * 43560 / 43200, rel=0.005) == DRIVEWAY / CFS
    assert pytest.approx(77.9 * 43560 / 43200, rel=0.005) == DRIVEWAY / GPM


def test_a_heavy_channel_takes_a_driveway_and_its_pipe_limits_it():
    found = assess_trench_drain(HEAVY, inflow_m3_s=DRIVEWAY, criteria=CRITERIA)
    assert (found.captured_m3_s, found.bypass_m3_s) == (DRIVEWAY, 0.0)
    assert found.capacities.limited_by == "pipe"
    # The 6 in pipe at 1.25 %, n 0.013: 0.561 sqrt(1.25) cfs when full.
    assert found.capacities.pipe_m3_s / CFS == pytest.approx(0.561 * math.sqrt(1.25), rel=0.005)
    assert found.headroom_m3_s == pytest.approx(found.capacities.drain_m3_s - DRIVEWAY)
    # One long edge of 20 ft, half clogged, as a weir: (0.175 / (3 x 10))^(2/3) ft.
    assert found.ponding_depth_m / FT == pytest.approx((DRIVEWAY / CFS / 30) ** (2 / 3), rel=1e-6)
    assert found.storage_m3 / CFS == pytest.approx(4.68 * 20 / 6, rel=0.002)
    for statistic in ("grate_m3_s", "channel_m3_s", "pipe_m3_s", "joint_m3_s", "pipe_slope_pct", "fall_m"):
        assert row(found, statistic).outcome == "passed"
    assert row(found, "fall_m").threshold == pytest.approx(0.01 * 40 * FT)
    assert found.profile.overflow_x_m is None


def test_grate_limits_when_it_clogs():
    clear, half, most = (
        assess_trench_drain(HEAVY, inflow_m3_s=0.03, criteria=CRITERIA.replaced(trench_drain_clogged_frac=frac))
        for frac in (0.0, 0.5, 0.9)
    )
    assert clear.capacities.limited_by == half.capacities.limited_by == "pipe"
    assert most.capacities.limited_by == "grate"
    # As a weir of a tenth of 20 ft under 25 mm of water.
    assert most.captured_m3_s / CFS == pytest.approx(3.0 * 2.0 * (0.025 / FT) ** 1.5)
    assert row(most, "grate_m3_s").outcome == "failed"


def test_a_shallow_channel_limits():
    drain = dataclasses.replace(HEAVY, channel=Channel(section=TrenchSection(4 * IN, 4 * IN, 3 * IN), length_m=20 * FT))
    found = assess_trench_drain(drain, inflow_m3_s=DRIVEWAY, criteria=CRITERIA)
    assert found.capacities.limited_by == "channel"
    assert found.bypass_m3_s > 0.0
    assert row(found, "channel_m3_s").outcome == "failed"
    above = row(found, "channel_m3_s")
    assert above.reasons == (CheckReason.STANDS_ABOVE_GRATE,) and above.facts[0] == ("from_m", 0.0)
    assert "stands above the grate from 0.0 to" in reason_words(above.reasons, above.facts)


@pytest.mark.parametrize("fall", [0.0, -0.3])
def test_without_fall_nothing_is_taken(fall):
    drain = dataclasses.replace(HEAVY, pipe=OutletPipe(diameter_m=6 * IN, length_m=40 * FT, fall_m=fall))
    found = assess_trench_drain(drain, inflow_m3_s=DRIVEWAY, criteria=CRITERIA)
    assert (found.captured_m3_s, found.bypass_m3_s) == (0.0, DRIVEWAY)
    assert found.capacities.limited_by == "pipe"
    for statistic in ("pipe_m3_s", "joint_m3_s", "pipe_slope_pct", "fall_m"):
        assert row(found, statistic).outcome == "failed"
    assert row(found, "velocity_m_s").outcome == "not assessed"


def test_without_a_pipe_the_pipe_is_not_assessed():
    found = assess_trench_drain(dataclasses.replace(HEAVY, pipe=None), inflow_m3_s=DRIVEWAY, criteria=CRITERIA)
    assert found.capacities.pipe_m3_s is None
    assert found.capacities.joint_m3_s == found.capacities.channel_m3_s
    for statistic in ("pipe_m3_s", "joint_m3_s", "pipe_slope_pct", "fall_m", "velocity_m_s"):
        assert row(found, statistic).outcome == "not assessed"
    assert found.cautions[0] is DrainCaution.NO_PIPE and "No outlet pipe" in DRAIN_CAUTIONS[DrainCaution.NO_PIPE]
    assert row(found, "pipe_m3_s").reasons == (CheckReason.NO_PIPE,)


@pytest.mark.parametrize(
    ("fall_ft", "settles", "scours"), [(0.4, "failed", "passed"), (0.5, "passed", "passed"), (8.0, "passed", "failed")]
)
def test_velocity_flags(fall_ft, settles, scours):
    # HEC-22 (2009) section 7.2.4: 3 ft/s when full. 6 in, n 0.013: 2.86 ft/s at 1 %, 3.19 at 1.25 %, 12.8 at 20 %.
    drain = dataclasses.replace(HEAVY, pipe=OutletPipe(diameter_m=6 * IN, length_m=40 * FT, fall_m=fall_ft * FT))
    found = assess_trench_drain(drain, inflow_m3_s=DRIVEWAY, criteria=CRITERIA)
    slow, fast = (line.outcome for line in found.rows if line.statistic == "velocity_m_s")
    assert (slow, fast) == (settles, scours)


def test_fall_that_the_inflow_asks_for():
    # A full 6 in pipe, n 0.013, carries 0.561 cfs at 1 %: twice that asks for 4 %, over 40 ft 1.6 ft.
    found = assess_trench_drain(HEAVY, inflow_m3_s=2 * 0.561 * CFS, criteria=CRITERIA)
    assert row(found, "fall_m").threshold / FT == pytest.approx(1.6, rel=0.005)
    assert row(found, "fall_m").outcome == "failed"


def test_a_deeper_catch_basin_gives_the_pipe_more_head():
    steep = OutletPipe(diameter_m=4 * IN, length_m=10 * FT, fall_m=2 * FT)
    shallow = dataclasses.replace(
        HEAVY, pipe=steep, channel=Channel(section=TrenchSection(8 * IN, 8 * IN, 6 * IN), length_m=20 * FT)
    )
    deep = dataclasses.replace(shallow, pipe=dataclasses.replace(steep, invert_drop_m=0.3))
    less, more = (find_capacities(drain, criteria=CRITERIA) for drain in (shallow, deep))
    assert less.joint_m3_s < more.joint_m3_s
    assert less.joint_m3_s <= min(less.channel_m3_s, less.pipe_m3_s) * (1 + 1e-3)


def test_sensitivity_to_clogging():
    found = assess_trench_drain(HEAVY, inflow_m3_s=0.015, criteria=CRITERIA, clogged_fracs=(0.0, 0.5, 0.9, 1.0))
    assert [case.clogged_frac for case in found.clogging] == [0.0, 0.5, 0.9, 1.0]
    capacities = [case.capacity_m3_s for case in found.clogging]
    assert capacities == sorted(capacities, reverse=True)
    assert found.clogging[1].capacity_m3_s == found.capacities.drain_m3_s
    assert found.clogging[1].bypass_m3_s == found.bypass_m3_s
    assert found.clogging[-1].bypass_m3_s == 0.015 and found.clogging[-1].ponding_depth_m == math.inf
    assert [case.limited_by for case in found.clogging][-2:] == ["grate", "grate"]


DRAINS = st.builds(
    lambda width, depth, length, slope, open_frac, diameter, fall: TrenchDrain(
        channel=Channel(section=TrenchSection(width, 1.2 * width, depth), length_m=length, invert_slope=slope),
        grate=Grate(width_m=width, length_m=length, open_frac=open_frac),
        pipe=OutletPipe(diameter_m=diameter, length_m=10.0, fall_m=fall),
    ),
    st.floats(0.08, 0.4),
    st.floats(0.08, 0.5),
    st.floats(1.0, 12.0),
    st.floats(0.0, 0.02),
    st.floats(0.1, 0.8),
    st.floats(0.05, 0.3),
    st.floats(-0.1, 1.0),
)


@settings(max_examples=10, deadline=None)
@given(drain=DRAINS, inflow=st.floats(0.0, 0.05))
def test_water_is_conserved_and_what_is_captured_stays_below_the_grate(drain, inflow):
    found = assess_trench_drain(drain, inflow_m3_s=inflow, criteria=CRITERIA, clogged_fracs=())
    assert found.captured_m3_s + found.bypass_m3_s == pytest.approx(inflow, abs=1e-15)
    assert min(found.captured_m3_s, found.bypass_m3_s) >= 0.0
    assert (found.bypass_m3_s > 0.0) == (found.headroom_m3_s < 0.0)
    # Within the hundredth of a millimetre to which depths are found.
    assert found.profile.freeboard_min_m >= -1e-5
    part = getattr(found.capacities, f"{found.capacities.limited_by}_m3_s")
    assert found.capacities.drain_m3_s <= part * (1 + 1e-3) + 1e-9


def test_the_site_is_checked_along():
    site = DrainSite(cut_depth_m=22 * IN, use="cars", load_class="B125", has_overflow_path=False)
    found = assess_trench_drain(dataclasses.replace(HEAVY, site=site), inflow_m3_s=DRIVEWAY, criteria=CRITERIA)
    assert [line.outcome for line in found.rows[-5:]] == ["passed", "passed", "passed", "failed", "not assessed"]
    for line in found.rows:
        assert line.source and format_value(line.value, line.unit, "us")
        assert line.unit in ("", "m", "m3_s", "m_s", "pct", "kn") and line.statistic.endswith(line.unit)


def test_a_grate_longer_than_its_channel_is_refused():
    with pytest.raises(InputError, match="length_m of the grate"):
        TrenchDrain(
            channel=Channel(section=TrenchSection(0.2, 0.2, 0.3), length_m=3.0),
            grate=Grate(width_m=0.2, length_m=4.0, open_frac=0.4),
        )
    with pytest.raises(InputError, match="inflow_m3_s"):
        assess_trench_drain(HEAVY, inflow_m3_s=-1.0, criteria=CRITERIA)
