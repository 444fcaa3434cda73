"""Codes with numbers in one text, as tables hold them between a stage and its words."""

from hypothesis import given
from hypothesis import strategies as st

from screening.report.words.capture import limits_words
from screening.schema.codes.capture import Rejection
from screening.schema.codes.packing import CODES_JOIN, pack, unpack

pairs = st.lists(st.tuples(st.sampled_from(list(Rejection)), st.floats(0.0, 1.0)), max_size=5)


@given(pairs)
def test_what_is_packed_comes_out_without_loss(given_pairs):
    assert unpack(pack(given_pairs)) == given_pairs


def test_no_code_holds_what_parts_them():
    assert not [code for code in Rejection if CODES_JOIN in code or "=" in code]


def test_shares_are_told_and_ground_that_is_not_there_has_none():
    packed = pack([(Rejection.STEEP, 0.254), (Rejection.TREES, 1.0)])
    assert limits_words(packed) == "too steep 25%, under trees 100%"
    assert limits_words(pack([(Rejection.NO_ELEVATION, float("nan"))])) == "no elevation"
    assert limits_words("") == ""
