"""Labels beside marks."""

from hypothesis import given
from hypothesis import strategies as st

from benchgalley.charts.placing import PLOT_WIDTH, Plot
from benchgalley.charts.reading import Span, at_setting, span

UNIT = Span(low=0.0, high=1.0)


def test_a_free_label_stands_to_the_right():
    spot = Plot(UNIT, UNIT).place(0.5, 0.5, "tuned")
    assert spot.align == "left" and spot.x > 0.5 and spot.y == 0.5


def test_at_the_right_edge_it_stands_to_the_left():
    assert Plot(UNIT, UNIT).place(0.99, 0.5, "tuned").align == "right"


def test_a_second_label_avoids_the_first():
    plot = Plot(UNIT, UNIT)
    first, second = plot.place(0.5, 0.5, "tuned"), plot.place(0.5, 0.5, "tuned")
    assert (first.x, first.y) != (second.x, second.y)


def test_of_several_points_the_free_one_is_taken():
    plot = Plot(UNIT, UNIT)
    for x in range(20, 60):
        for y in range(20, 80):
            plot.take_point(x / 100, y / 100, 6)
    spot = plot.place_at_one(((0.4, 0.5), (0.8, 0.5)), "walk")
    assert spot.x > 0.6


INNER = st.floats(0.25, 0.75)


@given(st.tuples(st.floats(0, 1), st.floats(0, 1)), st.lists(st.tuples(INNER, INNER), max_size=5))
def test_labels_stay_inside_the_plot(anywhere, inside):
    """One label may stand at any edge; several crowd into a corner only where there is room for them."""
    plot = Plot(UNIT, UNIT)
    for x, y in (anywhere, *inside):
        spot = plot.place(x, y, "four words of label")
        assert -0.02 <= spot.x <= 1 + 8 / PLOT_WIDTH and -0.02 <= spot.y <= 1.03


@given(st.lists(st.floats(-1e6, 1e6), min_size=1, max_size=9))
def test_a_span_holds_its_values_and_has_width(values):
    found = span(values)
    assert found.low < found.high
    assert found.low <= min(values) and max(values) <= found.high


def test_keys_of_means_at_a_setting():
    """As the contract of addresses has them: lower case, digits and hyphens."""
    assert at_setting("score", 84.0) == "score-at-84"
    assert at_setting("score", 82.5) == "score-at-82-5"
    assert at_setting("board-power", -110.0) == "board-power-at-minus-110"
