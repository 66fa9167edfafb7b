"""JSON set out line by line is that of the standard library's own encoder."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchgalley.publish.line_json import as_lines

PLAIN = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False) | st.text(),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=4), inner, max_size=4),
)


@given(PLAIN, st.integers(1, 3), st.booleans())
def test_the_text_is_that_of_the_standard_library(value, indent, sort_keys):
    expected = json.dumps(value, indent=indent, sort_keys=sort_keys, ensure_ascii=False, allow_nan=False)
    assert as_lines(value, indent, sort_keys=sort_keys) == expected


def test_inside_others_lines_begin_further_in():
    whole = {"a": {"b": ["c", {"d": 1}], "e": {}}}
    assert as_lines(whole, 2) == '{\n  "a": ' + as_lines(whole["a"], 2, depth=1) + "\n}"


@pytest.mark.parametrize("value", [float("nan"), [float("inf")], {"a": {"b": float("-inf")}}])
def test_what_is_no_json_is_refused(value):
    with pytest.raises(ValueError, match="JSON"):
        as_lines(value, 2)
