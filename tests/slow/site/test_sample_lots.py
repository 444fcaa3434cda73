"""Every sample lot whose catchment closes finds the same alone and among all."""

import pytest

from screening.models import SiteRequest
from screening.site.samples import demo_request
from screening.site.screen import screen_site


def test_a_lot_alone_and_among_others_finds_the_same(sample_screening):
    """Where the catchment closes, the window it is seen through must not matter."""
    together = sample_screening.summary.set_index("lot_id")
    closed = together[~together.edge_contaminated].index
    assert len(closed) >= 8
    numbers = [
        "area_m2",
        "slope_pct",
        "contributing_area_m2",
        "off_lot_area_m2",
        "runoff_m3",
        "run_on_m3",
        "curve_number",
        "tc_min",
        "peak_onto_l_s",
        "low_spot_volume_m3",
        "infiltration_area_m2",
        "n_flags",
        "visit_score",
    ]
    for lot_id in closed:
        base = demo_request()
        request = SiteRequest(**{**vars(base), "lot_ids": (lot_id,)})
        alone = screen_site(request, rain=sample_screening.result.storm.rain)
        row = alone.summary.iloc[0]
        assert alone.result.block.grid.n_rows < 520, lot_id
        assert row.main_finding == together.main_finding[lot_id]
        for name in numbers:
            assert row[name] == pytest.approx(together[name][lot_id], rel=1e-9), (lot_id, name)
