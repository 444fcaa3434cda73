"""The form that draws works offers what the reader of works takes."""

from __future__ import annotations

import pytest

from screening.report.map.drawing import form_of
from screening.schema.work_kinds import UNITS, all_kinds
from screening.units import UnitSystem


@pytest.mark.parametrize("units", ["metric", "us"])
def test_the_form_offers_the_names_that_are_read(units: UnitSystem) -> None:
    form = {kind["kind"]: kind for kind in form_of(units)["kinds"]}
    assert set(form) == {*all_kinds(), "driveway"}
    for kind in all_kinds().values():
        offered = form[kind.kind]
        assert len(offered["numbers"]) == len(kind.numbers)
        for number, shown in zip(kind.numbers, offered["numbers"], strict=True):
            for name, _ in shown["names"]:
                low, high = shown["limits"][name]
                factor = UNITS[number.quantity][name.removeprefix(number.name)]
                assert (low * factor, high * factor) == pytest.approx((number.low, number.high))
        assert {choice[0] for choice in offered["choices"]} == set(kind.words) - {"to", "structure_id"}
