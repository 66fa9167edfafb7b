"""The ledger as a whole: every address finds a number, every number hangs on its runs, nothing is ever NaN."""

import gc
import math

import pytest

from benchgalley.derive import evaluate, glossary
from benchgalley.records.address import Address
from benchgalley.records.bench import Outcome
from tests.counted_calls import calls_of

from .factory import at, site, two_setpoints
from .sites import session, whole_site

SITE = whole_site()
RESULTS = evaluate(SITE)
ALL = [address for scope in ("quiet", "card") for address in RESULTS.addresses(scope)]
SETTINGS = {"power-limit", "voltage-offset", "core-offset", "memory-offset", "power-limit-watts"}


def test_there_are_many_and_each_only_once():
    assert len(ALL) == len(set(ALL)) > 600


def test_every_listed_address_finds_a_finite_number():
    for address in ALL:
        found = RESULTS.find(address)
        assert found is not None, address
        assert found.address == address
        assert found.name and found.formula is not None and found.printed.text
        if found.value is None:
            assert found.reason and found.printed.value == "not determined", address
            continue
        values = [found.value, found.standard_uncertainty or 0.0]
        for interval in (found.interval, found.repeatability_interval):
            if interval is not None:
                values += [end for end in (interval.low, interval.high) if end is not None]
                assert interval.contains(found.value) or found.adjusted or found.finding, address
        assert all(math.isfinite(value) for value in values), address
        assert found.source, address
        assert found.exact or found.groups, address


def test_not_determined_is_rare_in_a_good_session():
    missing = [str(a) for a in ALL if RESULTS.find(a).value is None]
    assert missing == []


@pytest.mark.parametrize(
    "address",
    [
        "nowhere/score", "tuned/nonsense", "tuned/score/nonsense", "stock/score/saved", "stock/score/equivalent",
        "walk/score", "other:tuned/score", "walk/matching-power-limit/saved", "tuned/power-limit/spread",
        "tuned/fan-mode",
    ],
)  # fmt: skip
def test_unknown_addresses_give_nothing(address):
    assert RESULTS.find(at(address)) is None


def test_scopes_that_do_not_exist():
    assert RESULTS.addresses("nowhere") == ()
    assert RESULTS.rivals(at("nowhere:tuned/score")) == ()


def test_numbers_of_another_write_up():
    found = RESULTS.find(Address.parse("second:tuned/score", "quiet"))
    assert found is not None and found.value != RESULTS.find(at("tuned/score")).value


def test_table_order():
    """Settings, measured, derived, compared at each setpoint; then counts, then sequences."""
    quiet = [a for a in RESULTS.addresses("quiet") if not a.relation]
    stock = [a.quantity for a in quiet if a.subject == "stock"]
    assert stock == [
        "power-limit", "voltage-offset", "core-offset", "memory-offset", "power-limit-watts", "score", "board-power",
        "wall-power", "core-clock", "core-temperature", "hotspot-temperature", "ambient-temperature", "fan-speed",
        "sound-level", "run-time", "score-per-watt", "score-per-wall-watt", "run-energy", "energy-per-score",
        "temperature-rise", "hotspot-rise", "thermal-resistance", "running-energy", "running-cost", "trade-front",
        "runs", "completed-runs", "failed-runs", "failure-share",
    ]  # fmt: skip
    assert list(dict.fromkeys(a.subject for a in quiet)) == ["stock", "tuned", "mild", "walk", "ladder", "soak"]


def test_rivals_are_the_same_quantity_elsewhere():
    rivals = RESULTS.rivals(at("tuned/score-per-watt"))
    assert [r.local() for r in rivals] == ["stock/score-per-watt", "mild/score-per-watt"]
    assert [r.local() for r in RESULTS.rivals(at("tuned/score/saved"))] == ["mild/score/saved"]
    assert RESULTS.rivals(at("walk/best-score-per-watt")) == ()
    assert [r.subject for r in RESULTS.rivals(at("card:tuned/score"))] == ["stock", "mild"]


def _spoiled(address: Address, run: str, slug: str):
    """The same site with one run changed: readings up by some percent, or its outcome turned."""
    found = RESULTS.find(address)
    number = int(run.removeprefix("t")) - 1
    trial = next(t for t in SITE.write_ups[slug].trials if t.id == run)
    counting = {"failed-runs", "failure-share", "failures", "failure-rate", "manages", "samples", "first-failed",
                "headroom", "deepest-completed", "completed-runs"}  # fmt: skip
    if address.quantity == "runs":  # failed runs count too: only leaving one out changes the count
        return {number: {"excluded": "the window was open"}}
    if address.quantity in counting or address.relation == "runs":
        outcome = "completed" if trial.outcome is not Outcome.COMPLETED else "crashed"
        return {number: {"outcome": outcome}}
    if found.exact:  # the setting of the best score per watt: spoil the best point's score
        return {number: {"score": 1.0}}
    return {number: {column: value * 1.21 for column, value in trial.measured.items()}}


HANGS_ON_SETTINGS_ALONE = {"lowest-setting", "highest-setting", "samples"}


def _printed(found):
    return (found.printed.text, found.printed.interval, found.substitution, found.reason)


def test_changing_one_run_changes_each_number_it_feeds():
    """For each quantity: change one raw run that feeds it, and what is printed changes."""
    checked = 0
    spoiled_results = {}
    for address in ALL:
        found = RESULTS.find(address)
        if address.quantity in SETTINGS or address.quantity in HANGS_ON_SETTINGS_ALONE:
            continue
        # all runs, failed ones too, count where counts are concerned
        groups = [(name, runs) for name, runs in found.groups if runs]
        if address.scope == "card":
            slug = {"a": "quiet", "b": "second", "c": "third"}[groups[0][0].removeprefix("sample ")]
        else:
            slug = "quiet"
        if not groups:  # no failed run yet: let one fail
            groups = [("", (next(t.id for t in SITE.write_ups[slug].trials if _feeds(address, t)),))]
        run = _choice(address, groups)
        change = _spoiled(address, run, slug)
        key = (slug, repr(change))
        if key not in spoiled_results:
            spoiled_results[key] = evaluate(whole_site(**{slug: change}))
        after = spoiled_results[key].find(address)
        assert _printed(after) != _printed(found), address
        if not found.exact and found.finding is None:
            # a variance is not negative, and a chance ends at 0 and 100 %
            cut_off = address.relation == "between-samples" and found.value == 0.0
            cut_off = cut_off or (address.quantity == "trade-front" and found.value in (0.0, 100.0))
            assert after.value is None or after.value != found.value or cut_off, address
        checked += 1
    assert checked > 550


def _feeds(address, trial):
    points = SITE.write_ups["quiet"].setpoints
    return trial.sequence == address.subject or (
        address.subject in points and not trial.sequence and trial.settings == points[address.subject].settings
    )


def _choice(address, groups):
    """A run that bears on the number: of the first group unless only some runs do."""
    if address.quantity.startswith("best-score-per-watt"):
        return groups[0][1][0]
    if address.quantity in {"first-failed", "headroom"}:
        failed = {t.id for t in SITE.write_ups["quiet"].trials if t.outcome is not Outcome.COMPLETED}
        return next(run for run in groups[0][1] if run in failed)
    # the curve is read near its upper end; the last group is the baseline
    return groups[-2][1][0] if address.quantity == "score-at-matched-power" else groups[0][1][0]


def test_the_same_site_gives_the_same_bytes():
    again = evaluate(whole_site())
    for address in ALL[::7]:
        assert again.find(address) == RESULTS.find(address)


def test_a_number_is_computed_once():
    results = evaluate(site(two_setpoints()))
    assert results.find(at("tuned/score/saved")) is results.find(at("tuned/score/saved"))
    fresh = evaluate(SITE)
    ours = [a for a in RESULTS.addresses("second") if a.subject in ("tuned", "mild", "stock")]
    first, again = (calls_of(lambda: [fresh.find(address) for address in ours]) for _ in range(2))
    assert first > 20 * len(ours) > 20 * 50
    assert again < 8 * len(ours)  # looked up, five calls each


def test_glossary_defines_all_that_is_listed():
    entries = {quantity.key: quantity for quantity in glossary(SITE)}
    for address in ALL:
        if address.quantity in SETTINGS - {"power-limit-watts"} or "-at-" in address.quantity.removesuffix("power"):
            continue
        assert address.quantity in entries, address
        entry = entries[address.quantity]
        assert entry.definition and entry.formula and entry.source, address
        if address.relation:
            relation = entries["/" + address.relation]
            assert relation.definition and relation.formula and relation.source
    assert entries["running-cost"].unit.symbol == "XTS a year"


def test_no_write_up_no_numbers():
    empty = evaluate(site())
    assert empty.addresses("quiet") == () and empty.find(at("tuned/score")) is None


def test_a_write_up_without_runs():
    from .factory import write_up

    results = evaluate(site(write_up([])))
    for address in results.addresses("quiet"):
        assert results.find(address) is not None
    assert results.find(at("tuned/score")).value is None


def test_confidence_of_the_site_is_used():
    wide = evaluate(site(session(), confidence_pct=99.0)).find(at("tuned/score/saved"))
    narrow = evaluate(site(session(), confidence_pct=90.0)).find(at("tuned/score/saved"))
    assert wide.interval.confidence_pct == 99.0
    assert wide.interval.high - wide.interval.low > narrow.interval.high - narrow.interval.low


def test_a_number_is_an_ordinary_record():
    """Copies with changed fields, comparison and hashing work as with any record; texts come late but are kept."""
    from dataclasses import fields, replace

    found = RESULTS.find(at("tuned/score/change"))
    copy = replace(found)
    assert copy == found and hash(copy) == hash(found) and "tuned" in repr(found)
    assert all(getattr(copy, field.name) == getattr(found, field.name) for field in fields(found))
    assert replace(found, adjusted="as told").adjusted == "as told"
    assert found.printed is found.printed


def test_a_ledger_that_forgets_leaves_no_cycles():
    """Else a build that lets go of what it made would search through all of it."""

    def work():
        results = evaluate(SITE)
        for address in ALL:
            assert results.find(address).printed.text
        results.forget()

    work()  # what is loaded late and kept for good
    gc.collect()
    gc.disable()
    try:
        work()
        assert gc.collect() == 0
    finally:
        gc.enable()


def test_a_ledger_that_forgot_finds_the_same_numbers_again():
    results = evaluate(SITE)
    before = [results.find(address).printed for address in ALL]
    results.forget()
    assert [results.find(address).printed for address in ALL] == before
