"""A write-up with runs, and results for it, made by hand: the charts room is tested without the rooms before it.

The statistics here are the plain ones of the standard library; t quantiles are typed in from the table
(two-sided 95 %, 2 to 30 degrees of freedom, NIST/SEMATECH e-Handbook 1.3.6.7.2).
"""

import math
import statistics
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

from benchgalley.records import units
from benchgalley.records.address import Address
from benchgalley.records.bench import (
    Bench,
    Card,
    Instrument,
    Load,
    MeasuringPoint,
    Outcome,
    Sample,
    Sequence,
    SequenceKind,
    Setpoint,
    Trial,
    Window,
)  # fmt: skip
from benchgalley.records.findings import Location
from benchgalley.records.quantity import MEASURED, SETTINGS
from benchgalley.records.results import Interval, Number, Printed, Results
from benchgalley.records.site import Site, SiteSettings
from benchgalley.records.write_up import Margins, Text, WriteUp

HERE = Location(file="content/write-ups/made/write-up.md")
T95 = {1: 12.706, 2: 4.303, 3: 3.182, 4: 2.776, 5: 2.571, 6: 2.447, 7: 2.365, 8: 2.306, 9: 2.262, 10: 2.228}
POINTS = units.score_unit("points")


def text(words: str) -> Text:
    return Text(place="title", text=words, positions=(), file=HERE.file)


def settings(**given: float | str) -> dict[str, float | str]:
    return {s.column: given.get(s.column, s.default) for s in SETTINGS}


def trial(order: int, score: float | None, power: float | None, outcome: str = "completed", **given: Any) -> Trial:
    measured = {"score": score, "board_power_w": power, **given.pop("measured", {})}
    further = {k: given.pop(k) for k in ("windows", "sequence", "driver", "log", "excluded") if k in given}
    return Trial(
        id=f"r{order + 1:02d}",
        line=order + 2,
        order=order,
        settings=settings(**given),
        outcome=Outcome(outcome),
        measured={k: v for k, v in measured.items() if v is not None},
        decimals={"score": 1, "board_power_w": 1},
        **further,
    )


TUNED = {"power_limit_pct": 88.0, "voltage_offset_mv": -90.0}
LOW = {"power_limit_pct": 76.0, "voltage_offset_mv": -90.0}


def stock_tuned_low() -> list[Trial]:
    """Five runs each at three setpoints, in mixed order, then a ladder with failures, then two logged runs."""
    rows = [
        ({}, 3120.4, 251.2), (TUNED, 3132.9, 221.7), (LOW, 3011.2, 191.9), (TUNED, 3127.0, 220.9), ({}, 3116.1, 252.3),
        (LOW, 3004.8, 190.7), ({}, 3125.5, 250.8), (LOW, 3016.0, 191.3), (TUNED, 3138.2, 222.4), ({}, 3109.7, 251.9),
        (TUNED, 3129.8, 221.1), (LOW, 2998.4, 190.9), ({}, 3118.8, 251.0), (TUNED, 3135.1, 221.9), (LOW, 3008.3, 191.5),
    ]  # fmt: skip
    return [
        trial(i, s, p, **chosen, measured={"core_temp_c": 60 + p / 20, "fan_rpm": 900 + 4 * p})
        for i, (chosen, s, p) in enumerate(rows)
    ]


def ladder(first: int) -> list[Trial]:
    steps = [
        (-30.0, "completed"), (-30.0, "completed"), (-60.0, "completed"), (-60.0, "completed"), (-90.0, "completed"),
        (-90.0, "completed"), (-105.0, "completed"), (-105.0, "artefacts"), (-120.0, "crashed"), (-120.0, "hung"),
        (-135.0, "crashed"), (-135.0, "aborted"),
    ]  # fmt: skip
    return [
        trial(
            first + i,
            3120.0 + i if outcome == "completed" else None,
            250.0 if outcome == "completed" else None,
            outcome,
            voltage_offset_mv=offset,
            sequence="steps",
        )
        for i, (offset, outcome) in enumerate(steps)
    ]


def window(column: str, mean: float, phase: float) -> Window:
    trace = tuple((2.0 * i, mean * (1 - math.exp(-(i + 1) / 4)) + 3 * math.sin(i / 3 + phase)) for i in range(91))
    return Window(
        column=column, log="logs/a.csv", start_s=40.0, end_s=170.0, readings=66, effective_readings=30.0,
        mean=mean, minimum=mean - 4, maximum=mean + 4, percentile_95=mean + 3.5, integral=mean * 130,
        coverage_pct=72.2, repeated_pct=0.0, step=0.1, largest_gap_s=2.0, slope_per_min=0.01, trace=trace,
    )  # fmt: skip


def make_card(id: str = "quillon-42", samples: tuple[str, ...] = ("a",)) -> Card:
    return Card(
        id=id, maker="Quillon", model=id.rsplit("-", 1)[-1], stock_board_power_w=250.0,
        power_limit_range_pct=(60.0, 110.0), connectors=("8-pin",), ratings={},
        samples=tuple(Sample(id=s, contributed="a reader" if s == "c" else "") for s in samples), where=HERE,
    )  # fmt: skip


def make_load(version: str = "2.1") -> Load:
    return Load(
        id="lantern", name="Lantern", version=version, preset="high", score_unit=POINTS, higher_is_better=True,
        run_length_s=180.0, output_checked=False, facts={}, where=HERE,
    )  # fmt: skip


def make_bench(point: MeasuringPoint = MeasuringPoint.CARD_SENSOR) -> Bench:
    sensor = Instrument(
        id="sensor", name="card's sensor", columns=("board_power_w",), measures_at=point, gain_error_pct=1.0,
        offset_error=None, resolution=0.1, sampling_interval_s=1.0, reading="average", calibrated="no",
    )  # fmt: skip
    return Bench(id="cellar", name="Cellar", facts={}, instruments=(sensor,), where=HERE)


def make_write_up(slug: str = "made", **changes: Any) -> WriteUp:
    trials = stock_tuned_low()
    trials += ladder(len(trials))
    chosen = {"stock": {}, "tuned": TUNED, "low": LOW}
    given: dict[str, Any] = {
        "slug": slug, "folder": f"content/write-ups/{slug}", "title": text("A made write-up"), "summary": text(""),
        "published": "2026-10-02", "card": make_card(), "sample": Sample(id="a"), "bench": make_bench(),
        "load": make_load(), "baseline": "stock", "margins": Margins(by_quantity={}),
        "setpoints": {
            name: Setpoint(name=name, settings=settings(**s), label=name, where=HERE) for name, s in chosen.items()
        },
        "sequences": {
            "steps": Sequence(
                name="steps", kind=SequenceKind.LADDER, setting="voltage_offset_mv",
                held={k: v for k, v in settings().items() if k != "voltage_offset_mv"}, setpoint="",
                order="falling", label="steps", where=HERE,
            )
        },
        "trials": tuple(trials), "claim_names": {}, "accepted": (), "revisions": (), "logs": None, "invented": True,
        "stopping_rule": "", "tokens": (), "texts": (), "source": "", "body_line": 1, "images": {}, "files": {},
        "front": {},
    }  # fmt: skip
    return WriteUp(**{**given, **changes})


def make_site(*write_ups: WriteUp, cards: tuple[Card, ...] = ()) -> Site:
    chosen = SiteSettings(
        title=text("A site"), summary=text(""), address="", author="A. Tester", contact="", text_licence="CC-BY-4.0",
        data_licence="CC0-1.0", language="en", confidence_pct=95.0, hedge_share_pct=5.0, running=None, notice="",
    )  # fmt: skip
    return Site(
        settings=chosen,
        benches={w.bench.id: w.bench for w in write_ups},
        loads={w.load.id: w.load for w in write_ups},
        cards={c.id: c for c in cards} or {w.card.id: w.card for w in write_ups},
        write_ups={w.slug: w for w in write_ups},
        files={},
    )


GAIN = 0.01 / math.sqrt(3)


def printed(value: float, unit: units.Unit, half: float | None) -> Printed:
    decimals = 1 if half is None else max(0, 1 - math.floor(math.log10(half)))
    gap = "\u00a0" if unit.symbol else ""

    def show(x: float) -> str:
        return f"{x:.{decimals}f}".replace("-", "\u2212") + gap + unit.symbol

    low_high = "" if half is None else f"{show(value - half)} to {show(value + half)}"
    both = show(value) if half is None else f"{show(value)} ± {show(half)}"
    return Printed(
        value=f"{value:.{decimals}f}", text=show(value), interval=low_high, plus_minus=both, decimals=decimals
    )


def number(
    address: Address, value: float, unit: units.Unit, repeat: float | None, whole: float | None, runs: Any, **more: Any
) -> Number:
    def interval(half: float | None) -> Interval | None:
        if half is None:
            return None
        return Interval(low=value - half, high=value + half, confidence_pct=95.0, method="Student t")

    return Number(
        address=address, name=str(address), value=value, unit=unit, printed=printed(value, unit, whole),
        repeatability_interval=interval(repeat), interval=interval(whole), groups=runs, **more,
    )  # fmt: skip


class MadeResults:
    """Answers for setpoint means, score per watt and percent changes; anything else comes from `extra`."""

    def __init__(self, site: Site, extra: Mapping[str, Callable[[Address], Number]] | None = None) -> None:
        self._site, self._extra = site, extra or {}

    def ledger(self) -> Results:
        return Results(compute=self._compute, list_addresses=lambda scope: (), rival_groups=lambda address: ())

    def _runs(self, address: Address) -> list[Trial]:
        write_up = self._site.write_ups[address.scope]
        wanted = write_up.setpoints[address.subject].settings
        return [t for t in write_up.trials if t.counts and not t.sequence and t.settings == wanted]

    def _compute(self, address: Address) -> Number | None:
        if str(address) in self._extra:
            return self._extra[str(address)](address)
        write_up = self._site.write_ups.get(address.scope)
        if write_up is not None and address.subject in write_up.sequences and "-at-" in address.quantity:
            return self._at_limit(address, write_up)
        if write_up is None or address.subject not in write_up.setpoints:
            return None
        runs = self._runs(address)
        if address.relation == "change-percent":
            return self._change(address)
        if address.relation or not runs:
            return None
        if address.quantity == "score-per-watt":
            runs = [t for t in runs if "board_power_w" in t.measured]
            if not runs:
                return None
            values = [t.measured["score"] / t.measured["board_power_w"] for t in runs]
            return self._mean(address, values, units.per(POINTS, units.WATT), runs, GAIN, True)
        quantity = next((q for q in MEASURED if q.key == address.quantity), None)
        if quantity is None or any(quantity.column not in t.measured for t in runs):
            return None
        gain = GAIN if quantity.key == "board-power" else 0.0
        values = [t.measured[quantity.column] for t in runs]
        return self._mean(address, values, quantity.unit, runs, gain, quantity.key == "score")

    def _at_limit(self, address: Address, write_up: WriteUp) -> Number | None:
        held = write_up.sequences[address.subject].held
        limit = float(address.quantity.removeprefix("score-at-").replace("-", "."))
        runs = [
            t
            for t in write_up.trials
            if t.counts
            and t.settings["power_limit_pct"] == limit
            and (t.sequence == address.subject or (not t.sequence and held.items() <= t.settings.items()))
        ]
        return self._mean(address, [t.measured["score"] for t in runs], POINTS, runs, 0.0, True) if runs else None

    def _mean(
        self, address: Address, values: list[float], unit: units.Unit, runs: list[Trial], gain: float, better: bool
    ) -> Number:
        mean, groups = statistics.fmean(values), ((address.subject, tuple(t.id for t in runs)),)
        if len(values) < 2:
            return number(address, mean, unit, None, None, groups, higher_is_better=better)
        repeat = T95[len(values) - 1] * statistics.stdev(values) / math.sqrt(len(values))
        whole = math.hypot(repeat, 2 * gain * mean)
        return number(address, mean, unit, repeat, whole, groups, higher_is_better=better)

    def _change(self, address: Address) -> Number | None:
        write_up = self._site.write_ups[address.scope]
        here = self._compute(address.related(""))
        base = Address(scope=address.scope, subject=write_up.baseline, quantity=address.quantity)
        there = self._compute(base)
        if here is None or there is None or not here.value or not there.value:
            return None
        change = 100 * (here.value / there.value - 1)
        half = None
        if here.repeatability_interval and there.repeatability_interval:
            a = (here.repeatability_interval.high or 0) - here.value
            b = (there.repeatability_interval.high or 0) - there.value
            half = 100 * math.hypot(a / there.value, b * here.value / there.value**2)
        return number(address, change, units.PERCENT, half, half, (*here.groups, *there.groups))


def sweep(first: int) -> list[Trial]:
    limits = (100.0, 70.0, 85.0, 78.0, 92.0) * 3
    return [
        trial(
            first + i,
            3118.0 - 0.16 * (100 - limit) ** 2 + ((i * 7) % 4 - 1.5) * 4.0,
            2.5 * limit + (i * 3) % 4 * 0.3,
            power_limit_pct=limit,
            sequence="sweep",
        )
        for i, limit in enumerate(limits)
    ]


def walk(first: int) -> list[Trial]:
    limits = (96.0, 92.0, 84.0, 80.0, 76.0) * 2
    return [
        trial(
            first + i,
            3140.0 - 0.2 * (96 - limit) ** 2 + ((i * 3) % 4 - 1.5) * 4.0,
            2.5 * limit,
            power_limit_pct=limit,
            voltage_offset_mv=-90.0,
            sequence="walk",
        )
        for i, limit in enumerate(limits)
    ]


def sequence(name: str, kind: SequenceKind, setting: str, **held: float) -> Sequence:
    return Sequence(
        name=name,
        kind=kind,
        setting=setting,
        held={k: v for k, v in settings(**held).items() if k != setting},
        setpoint="",
        order="shuffled",
        label=f"limit {name}",
        where=HERE,
    )


def make_full_write_up(slug: str = "made", **changes: Any) -> WriteUp:
    """Every figure kind of a write-up has data here."""
    plain = make_write_up(slug)
    trials = list(plain.trials)
    for place, phase in ((0, 0.0), (1, 1.0)):
        mean = trials[place].measured["board_power_w"]
        trials[place] = replace(trials[place], windows={"board_power_w": window("board_power_w", mean, phase)})
    trials += sweep(len(trials))
    trials += walk(len(trials))
    sequences = {
        **plain.sequences,
        "sweep": sequence("sweep", SequenceKind.SWEEP, "power_limit_pct"),
        "walk": sequence("walk", SequenceKind.WALK, "power_limit_pct", voltage_offset_mv=-90.0),
    }
    return make_write_up(slug, **{"trials": tuple(trials), "sequences": sequences, **changes})


def extra_numbers(slug: str = "made") -> dict[str, Callable[[Address], Number]]:
    """Sequence numbers and shares of the baseline, typed in."""

    def given(value: float, unit: units.Unit, half: float | None) -> Callable[[Address], Number]:
        return lambda address: number(address, value, unit, half, half, ())

    shares = {"stock": (100.0, 100.0), "tuned": (88.1, 100.5), "low": (76.1, 96.5)}
    return {
        f"{slug}:walk/matching-power-limit": given(84.6, units.PERCENT, 2.1),
        f"{slug}:steps/deepest-completed": given(-90.0, units.MILLIVOLT, None),
        f"{slug}:steps/first-failed": given(-105.0, units.MILLIVOLT, None),
        **{
            f"{slug}:{name}/{quantity}/of-baseline": given(value, units.PERCENT, None if name == "stock" else 0.4)
            for name, pair in shares.items()
            for quantity, value in zip(("board-power", "score"), pair, strict=True)
        },
    }
