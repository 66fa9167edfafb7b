"""Texts set column by column are those set one by one, and tables are those of the standard library."""

import csv
import io
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from markupsafe import Markup, escape

from benchgalley.publish.budgets import Budgets
from benchgalley.publish.columns import Column, Table
from benchgalley.publish.templates import _environment
from benchgalley.publish.typesetting import all_escaped, all_typeset, escaped, typeset_once
from benchgalley.publish.workings import all_plain, counted, plain
from benchgalley.records import units
from benchgalley.records.address import Address
from benchgalley.records.results import Component, Number, Printed

TELLING = st.lists(st.text(alphabet="5 -W%<&'\"\n,.a°C\u2212\r;=") | st.sampled_from(["5 W", "-3", "a -3 W", "5 W%"]))
SIZES = st.floats(min_value=0, allow_nan=False) | st.floats(min_value=1e-12, max_value=1e9)


@given(TELLING)
def test_a_column_of_texts_is_set_as_each_of_them(texts):
    assert all_escaped(list(texts)) == [escaped(text) for text in texts] == [str(escape(text)) for text in texts]
    assert all_typeset(list(texts)) == [typeset_once(text) for text in texts]


@given(st.lists(SIZES), st.sampled_from([2, 3]))
def test_many_figures_are_printed_as_each_of_them(values, digits):
    assert all_plain(values, digits) == [plain(value, digits) for value in values]


@given(st.lists(st.tuples(*[st.text(alphabet='ab ,"\n\r;=')] * 3), max_size=4))
def test_a_table_is_that_of_the_standard_library(rows):
    columns = tuple(Column(name=n, title=n, description=n, kind="string") for n in ("one", "two", "three"))
    table = Table(name="t", title="t", description="t", key="one", columns=columns, rows=tuple(rows))
    whole = [["one", "two", "three"], *map(list, rows)]
    assert list(csv.reader(io.StringIO(table.as_csv().decode(), newline=""))) == whole
    if not any("\n" in cell or "\r" in cell for row in rows for cell in row):
        text = io.StringIO()
        csv.writer(text, lineterminator="\n").writerows(whole)
        assert table.as_csv().decode() == text.getvalue()


@given(st.text(alphabet="<>&'\"ab") | st.text(alphabet="<>&'\"ab").map(Markup) | st.integers() | st.none())
def test_a_template_prints_what_its_library_would(value):
    ours = _environment().from_string("{{ value }}|{{ value ~ '<' }}|{{ 'a' if value else '<' }}")
    assert ours.render(value=value) == f"{escape(value)}|{escape(value) + '<'}|{'a' if value else '&lt;'}"


@pytest.mark.parametrize("scale", [1e-290, 1e-160, 1.0, 1e160, 1e290])
def test_a_budget_of_figures_far_from_one_is_told(scale):
    components = tuple(Component(f"part {k}", "B", k * scale, math.inf, "stated") for k in (0, 3, 4))
    found, shares = counted(components)
    assert [c.name for c in found] == ["part 3", "part 4"]
    assert shares == ["36\u00a0%", "64\u00a0%"]
    number = Number(
        address=Address(scope="one", subject="tuned", quantity="board-power"), name="board power", value=scale,
        unit=units.WATT, printed=Printed("1", "1 W", "", "1 W", 0), components=components,
        standard_uncertainty=5 * scale, degrees_of_freedom=math.inf,
    )  # fmt: skip
    (row,) = Budgets().of_each([number], ["tuned/board-power"])
    assert "36\u00a0%" in row and "64\u00a0%" in row
