"""What speaks against a reader's runs: each doubt a function over the write-up made of them, in one table."""

from collections import Counter
from collections.abc import Callable, Iterable
from itertools import pairwise

from benchgalley.records.address import Address
from benchgalley.records.bench import Trial
from benchgalley.records.results import Results
from benchgalley.records.site import Site
from benchgalley.records.write_up import WriteUp

FEWEST_STOCK = 3
SCORE_RATIO = 1.25
"""A stock score this factor from another sample's is another load, another preset or a slip (ours)."""
POWER_SHARE = (0.3, 1.15)
"""Mean board power over the limit set, lowest and highest believed (ours)."""
DEEPEST_MV = 400.0
"""Further from stock than any offset seen to complete (ours)."""
HOTTEST_C = 115.0
"""Cards switch themselves off below this (common practice, no published source)."""
REGULAR_RUNS = 5
"""From so many runs on, a pattern in the scores is no accident (ours)."""
ROUND_RUNS = 8
SPREAD_RATIO = 20.0
"""Spread of stock scores against another sample's, as a factor (ours)."""
SAME_ROWS = 3

Doubt = tuple[str, int]
"""(sentence, line of trials.csv or 1)."""


def _counted(write_up: WriteUp, column: str) -> list[tuple[Trial, float]]:
    return [(t, t.measured[column]) for t in write_up.trials if t.counts and column in t.measured]


def _others(write_up: WriteUp, site: Site) -> list[WriteUp]:
    """Write-ups of the same card under the same load."""
    return [
        w
        for w in site.write_ups.values()
        if w.slug != write_up.slug and w.card.id == write_up.card.id and w.load.id == write_up.load.id
    ]


def _stock(write_up: WriteUp, results: Results, relation: str = "") -> float | None:
    address = Address(scope=write_up.slug, subject=write_up.baseline, quantity="score", relation=relation)
    number = results.find(address)
    return None if number is None else number.value


def limits_the_maker_does_not_allow(write_up: WriteUp, site: Site, results: Results) -> Iterable[Doubt]:
    """A power limit outside the card file's range."""
    low, high = write_up.card.power_limit_range_pct
    for trial in write_up.trials:
        limit = trial.settings["power_limit_pct"]
        if isinstance(limit, float) and not low <= limit <= high:
            yield (
                f"run {trial.id} has a power limit of {limit:g} %; the card allows {low:g} % to {high:g} %",
                trial.line,
            )
            return


def offsets_out_of_reach(write_up: WriteUp, site: Site, results: Results) -> Iterable[Doubt]:
    """An offset upwards, which the worksheet never asks for, or deeper than any card goes."""
    for trial in write_up.trials:
        offset = trial.settings["voltage_offset_mv"]
        if isinstance(offset, float) and (offset > 0 or (offset < -DEEPEST_MV and trial.counts)):
            yield f"run {trial.id} has a voltage offset of {offset:g} mV", trial.line
            return


def score_far_from_other_samples(write_up: WriteUp, site: Site, results: Results) -> Iterable[Doubt]:
    """A stock score no sample of this card comes near."""
    own = _stock(write_up, results)
    theirs = [s for w in _others(write_up, site) if (s := _stock(w, results))]
    if own is None or not theirs:
        return
    if own > SCORE_RATIO * max(theirs) or own < min(theirs) / SCORE_RATIO:
        yield (
            f"the stock score is {own:.5g}; other samples of this card scored {min(theirs):.5g} to {max(theirs):.5g}",
            1,
        )


def power_away_from_its_limit(write_up: WriteUp, site: Site, results: Results) -> Iterable[Doubt]:
    """Board power above what the limit lets through, or far below it."""
    low, high = POWER_SHARE
    for trial, power_w in _counted(write_up, "board_power_w"):
        limit = trial.settings["power_limit_pct"]
        assert isinstance(limit, float)
        limit_w = write_up.card.stock_board_power_w * limit / 100
        if not low * limit_w <= power_w <= high * limit_w:
            yield f"run {trial.id} drew {power_w:g} W under a limit of {limit_w:.0f} W", trial.line
            return


def temperatures_that_cannot_be(write_up: WriteUp, site: Site, results: Results) -> Iterable[Doubt]:
    """A core below its room, a hotspot below its core, anything above what cards survive."""
    for trial in write_up.trials:
        chain = [trial.measured[c] for c in ("ambient_c", "core_temp_c", "hotspot_temp_c") if c in trial.measured]
        if any(warmer < cooler for cooler, warmer in pairwise(chain)) or any(c > HOTTEST_C for c in chain):
            yield f"run {trial.id} has temperatures that cannot be: {', '.join(f'{c:g} °C' for c in chain)}", trial.line
            return


def scores_too_regular(write_up: WriteUp, site: Site, results: Results) -> Iterable[Doubt]:
    """Scores that are all the same, climb in equal steps, or are all round."""
    counted = _counted(write_up, "score")
    scores = [score for _, score in counted]
    if len(scores) < REGULAR_RUNS:
        return
    steps = {round(b - a, 9) for a, b in pairwise(scores)}
    if len(steps) == 1:
        yield ("every score is the same" if steps == {0.0} else "the scores climb in equal steps"), 1
        return
    last = {round(score * 10 ** trial.decimals.get("score", 0)) % 5 for trial, score in counted}
    if len(scores) >= ROUND_RUNS and last == {0}:
        yield "every score ends in 0 or 5", 1


def rows_that_repeat(write_up: WriteUp, site: Site, results: Results) -> Iterable[Doubt]:
    """The same score, power and temperature in several runs: copied rows."""
    rows = Counter(_fingerprint(t) for t in write_up.trials if t.counts and len(t.measured) >= 3)
    if rows and (most := rows.most_common(1)[0][1]) >= SAME_ROWS:
        yield f"{most} runs have the same figures in every column", 1


def spread_unlike_other_samples(write_up: WriteUp, site: Site, results: Results) -> Iterable[Doubt]:
    """Repeats far closer together than on any other sample."""
    own, mean = _stock(write_up, results, "spread"), _stock(write_up, results)
    if not own or not mean:
        return
    theirs = [
        spread / centre
        for w in _others(write_up, site)
        if (spread := _stock(w, results, "spread")) and (centre := _stock(w, results))
    ]
    if theirs and own / mean < min(theirs) / SPREAD_RATIO:
        yield (
            f"stock scores spread by {100 * own / mean:.2g} %; on other samples by {100 * min(theirs):.2g} % or more",
            1,
        )


DOUBTS: tuple[Callable[[WriteUp, Site, Results], Iterable[Doubt]], ...] = (
    limits_the_maker_does_not_allow,
    offsets_out_of_reach,
    score_far_from_other_samples,
    power_away_from_its_limit,
    temperatures_that_cannot_be,
    scores_too_regular,
    rows_that_repeat,
    spread_unlike_other_samples,
)
"""In the order they are told."""


def doubts(write_up: WriteUp, site: Site, results: Results) -> tuple[Doubt, ...]:
    """Everything that speaks against the runs."""
    return tuple(doubt for find in DOUBTS for doubt in find(write_up, site, results))


def _fingerprint(trial: Trial) -> tuple[object, ...]:
    return (tuple(sorted(trial.settings.items())), trial.outcome, tuple(sorted(trial.measured.items())))


def already_there(write_up: WriteUp, site: Site) -> str:
    """Slug of a write-up that holds most of the same runs already; empty when none does."""
    own = Counter(_fingerprint(t) for t in write_up.trials if t.counts)
    enough = max(SAME_ROWS, (sum(own.values()) + 1) // 2)
    for other in site.write_ups.values():
        if other.slug == write_up.slug or other.card.id != write_up.card.id:
            continue
        theirs = Counter(_fingerprint(t) for t in other.trials if t.counts)
        if sum((own & theirs).values()) >= enough:
            return other.slug
    return ""
