"""Several comparisons and ties: each rule raised, and not raised just inside its limit."""

from dataclasses import replace

from benchgalley.caveats.context import look
from benchgalley.caveats.selection import several_comparisons
from benchgalley.derive import evaluate
from benchgalley.records.results import Results

from .factory import caveats, claim, good_runs, run, sequence, setpoint, site, write_up

ECO = {"power_limit_pct": 70.0}


def three_setpoints():
    runs = [
        *good_runs(),
        *(
            run(100 + i, ECO, measured={"score": 7000.0 + 9 * (i % 3), "board_power_w": 140.0 + i % 4})
            for i in range(8)
        ),
    ]
    return write_up(
        runs, setpoints=(setpoint("stock"), setpoint("tuned", power_limit_pct=84.0), setpoint("eco", **ECO))
    )


def unadjusted(own, addresses):
    """What the rule says when no interval allows for several comparisons."""
    results = evaluate(site(own))

    def plain(address):
        number = results.find(address)
        return number and replace(number, adjusted="")

    bare = Results(compute=plain, list_addresses=results.addresses, rival_groups=results.rivals)
    claims = tuple(claim(a, own.slug) for a in addresses)
    return list(several_comparisons(look(own, site(own), bare, claims)))


def test_differences_of_two_setpoints_without_adjustment():
    (raised,) = unadjusted(three_setpoints(), ["tuned/score/change", "eco/score/saved", "eco/board-power"])
    assert raised.addresses == ("tuned/score/change", "eco/score/saved")
    assert "score at 2\xa0setpoints" in raised.missing
    # the union bound: 2 x 5 %
    assert "up to 10 %" in raised.effect


def test_one_setpoint_or_two_quantities_are_no_family():
    assert not unadjusted(three_setpoints(), ["tuned/score/change", "tuned/score/saved"])
    assert not unadjusted(three_setpoints(), ["tuned/score/change", "eco/board-power/saved"])
    assert not unadjusted(three_setpoints(), ["tuned/score", "eco/score", "stock/score"])


def test_adjusted_intervals_need_no_caveat():
    own = three_setpoints()
    results = evaluate(site(own))

    def adjusted(address):
        number = results.find(address)
        return number and replace(number, adjusted="Dunnett, 2 settings against stock")

    all_adjusted = Results(compute=adjusted, list_addresses=results.addresses, rival_groups=results.rivals)
    claims = tuple(claim(a) for a in ("tuned/score/change", "eco/score/change"))
    assert not list(several_comparisons(look(own, site(own), all_adjusted, claims)))


def swept(scores, repeats=4):
    """A sweep at 150 W a point with these mean scores and a spread of some 6 points."""
    runs = [
        run(
            100 + 10 * i + j,
            {"power_limit_pct": 60.0 + 5 * i, "voltage_offset_mv": -50.0},
            measured={"score": score + (5.0, -5.0, 7.0, -7.0)[j], "board_power_w": 150.0},
        )
        for j in range(repeats)
        for i, score in enumerate(scores)
    ]
    walk = sequence("walk", "walk", "power_limit_pct", voltage_offset_mv=-50.0)
    return caveats(write_up([*good_runs(), *runs], sequences=[walk]))


def test_settings_that_may_be_the_best_are_named():
    raised = swept((7000.0, 7100.0, 7103.0))["tied-optimum"]
    assert "walk: 65\xa0% and 70\xa0%" in raised.missing
    assert "walk/best-score-per-watt-setting" in raised.addresses


def test_a_best_that_stands_alone_is_no_tie():
    assert "tied-optimum" not in swept((7000.0, 7050.0, 7103.0))


def test_two_runs_a_point_are_enough_to_compare():
    assert "65\xa0% and 70\xa0%" in swept((6000.0, 7100.0, 7103.0), repeats=2)["tied-optimum"].missing


def test_a_point_of_one_run_cannot_be_compared():
    assert "tied-optimum" not in swept((7000.0, 7100.0, 7103.0), repeats=1)
