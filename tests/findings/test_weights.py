import dataclasses

import pytest

from screening.pipeline import screen_block
from screening.schema.checks import all_checks
from screening.schema.criteria import Criteria, thresholds


def test_scores_follow_the_weights(sample_result):
    """Doubling one kind doubles its points alone; a weight of 0 leaves the flag and takes its points."""
    block, rain, before = sample_result.block, sample_result.storm.rain, sample_result.verdicts
    criteria = Criteria.of(weight_standing_water=2.0, weight_driveway=0.0)
    result = screen_block(block, criteria=criteria, rain=rain)
    factors = {"standing_water": 2.0, "driveway_to_wall": 0.0}
    for old, new in zip(before, result.verdicts, strict=True):
        assert new.points == pytest.approx(old.points * factors.get(old.check_id, 1.0))
        assert dataclasses.replace(new, weight=1.0) == old
    assert result.summary.n_flags.tolist() == sample_result.summary.n_flags.tolist()
    sums = [sum(v.points for v in result.verdicts if v.lot_id == lot_id) for lot_id in result.summary.lot_id]
    assert result.summary.visit_score.tolist() == pytest.approx(sums)
    names = list(thresholds())
    assert sorted(check.weight for check in all_checks() if check.weight) == sorted(
        name for name in names if name.startswith("weight_")
    )
