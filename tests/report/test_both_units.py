from __future__ import annotations

import pytest
from jinja2 import Environment

from screening.errors import OutputError
from screening.report.both_units import BothUnits, merge_units
from screening.report.map.offline import json_for_script


def test_texts_that_differ_become_pairs_and_all_else_stays() -> None:
    merged = merge_units({"a": ("1 m", "same", 2.5, None)}, {"a": ["3.3 ft", "same", 2.5, None]}, "us")
    assert merged == {"a": [BothUnits("1 m", "3.3 ft", "us"), "same", 2.5, None]}
    assert merge_units(float("nan"), float("nan"), "us") != 0


@pytest.mark.parametrize(
    ("metric", "us"), [({"a": 1}, {"b": 1}), ([1], [1, 2]), (1.0, 2.0), ("text", None), ({"a": 1}, [1])]
)
def test_what_differs_in_more_than_texts_is_refused(metric: object, us: object) -> None:
    with pytest.raises(OutputError, match="more than its texts"):
        merge_units(metric, us, "metric")


def test_a_pair_is_escaped_in_the_page_and_told_whole_to_the_script() -> None:
    pair = BothUnits('1 m"><b>', "3 ft'&", "metric")
    shown = Environment(autoescape=True).from_string("{{ pair }}").render(pair=pair)
    assert shown == (
        '<span data-metric="1 m&quot;&gt;&lt;b&gt;" data-us="3 ft&#x27;&amp;">1 m&quot;&gt;&lt;b&gt;</span>'
    )
    assert json_for_script({"pair": BothUnits("1 m", "3 ft", "us")}) == '{"pair":{"metric":"1 m","us":"3 ft"}}'
