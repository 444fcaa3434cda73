import dataclasses

import pytest

from screening.findings.checks import WEIGHTS
from screening.pipeline import screen_block
from screening.schema.criteria import Criteria, thresholds


def test_scores_follow_the_weights(sample_result):
    """Doubling one kind doubles its points alone; a weight of 0 leaves the flag and takes its points."""
    block, rain, before = sample_result.block, sample_result.storm.rain, sample_result.verdicts
    criteria = Criteria.of(weight_standing_water=2.0, weight_driveway=0.0)
    result = screen_block(block, criteria=criteria, rain=rain)
    factors = {"pond_depth_full_m": 2.0, "to_structure_frac": 0.0}
    for old, new in zip(before, result.verdicts, strict=True):
        assert new.points == pytest.approx(old.points * factors.get(old.statistic, 1.0))
        assert dataclasses.replace(new, weight=1.0) == old
    assert result.summary.n_flags.tolist() == sample_result.summary.n_flags.tolist()
    sums = [sum(v.points for v in result.verdicts if v.lot_id == lot_id) for lot_id in result.summary.lot_id]
    assert result.summary.visit_score.tolist() == pytest.approx(sums)
    names = list(thresholds())
    assert sorted(WEIGHTS.values()) == sorted(name for name in names if name.startswith("weight_"))
