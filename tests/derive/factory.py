"""Small invented sites for the tests of the derive room."""

from datetime import UTC, datetime, timedelta

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
)
from benchgalley.records.findings import Location
from benchgalley.records.quantity import SETTINGS
from benchgalley.records.site import Running, Site, SiteSettings
from benchgalley.records.write_up import Margins, Text, WriteUp

HERE = Location(file="made/up.md")
DEFAULTS = {setting.column: setting.default for setting in SETTINGS}
START = datetime(2026, 9, 1, 9, 0, tzinfo=UTC)


def text(words: str = "", place: str = "title") -> Text:
    return Text(place=place, text=words, positions=tuple((1, i + 1) for i in range(len(words))), file=HERE.file)


def settings(**changed):
    return {**DEFAULTS, **changed}


def instrument(column: str, **limits) -> Instrument:
    given = {
        "id": limits.pop("id", "meter-" + column.replace("_", "-")),
        "name": limits.pop("name", "meter"),
        "columns": (column,),
        "measures_at": MeasuringPoint.SLOT_AND_CABLE,
        "gain_error_pct": 0.0,
        "offset_error": 0.0,
        "resolution": 0.0,
        "sampling_interval_s": None,
        "reading": "average",
        "calibrated": "no",
    }
    return Instrument(**{**given, **limits})


def bench(*instruments: Instrument) -> Bench:
    return Bench(id="bench", name="bench", facts={}, instruments=instruments, where=HERE)


def load(higher_is_better: bool = True, unit: str = "points", version: str = "1.0") -> Load:
    return Load(
        id="load", name="Invented load", version=version, preset="high", score_unit=units.score_unit(unit),
        higher_is_better=higher_is_better, run_length_s=60.0, output_checked=True, facts={}, where=HERE,
    )  # fmt: skip


def card(stock_w: float = 230.0, samples=("a",)) -> Card:
    return Card(
        id="card", maker="Maker", model="Model", stock_board_power_w=stock_w, power_limit_range_pct=(50.0, 110.0),
        connectors=("8-pin",), ratings={}, samples=tuple(Sample(id=s) for s in samples), where=HERE,
    )  # fmt: skip


def setpoint(name: str, **changed) -> Setpoint:
    return Setpoint(name=name, settings=settings(**changed), label=name.replace("-", " "), where=HERE)


def sequence(name: str, kind: str, setting: str = "", setpoint: str = "", **held) -> Sequence:
    others = {column: held.get(column, default) for column, default in DEFAULTS.items() if column != setting}
    return Sequence(
        name=name, kind=SequenceKind(kind), setting=setting, held={} if kind == "soak" else others,
        setpoint=setpoint, order="shuffled", label=name, where=HERE,
    )  # fmt: skip


class Bencher:
    """Collects runs in order and hands out trials."""

    def __init__(self, timed: bool = False) -> None:
        self.trials: list[Trial] = []
        self.timed = timed

    def run(
        self,
        outcome: str = "completed",
        sequence: str = "",
        excluded: str = "",
        decimals: int = 2,
        set=None,
        **measured,
    ):
        number = len(self.trials)
        values = {column: float(value) for column, value in measured.items() if value is not None}
        self.trials.append(
            Trial(
                id=f"t{number + 1:02d}", line=number + 2, order=number, settings=settings(**(set or {})),
                outcome=Outcome(outcome), measured=values, decimals=dict.fromkeys(values, decimals),
                started=START + timedelta(minutes=2 * number) if self.timed else None,
                sequence=sequence, excluded=excluded,
            )
        )  # fmt: skip
        return self


def write_up(trials, *, slug="quiet", setpoints=(), sequences=(), margins=None, bench_=None, load_=None, card_=None,
             baseline="stock", sample="a") -> WriteUp:  # fmt: skip
    points = {p.name: p for p in (setpoints or (setpoint("stock"), setpoint("tuned", power_limit_pct=84.0)))}
    return WriteUp(
        slug=slug, folder=f"content/write-ups/{slug}", title=text("Title"), summary=text("Summary"),
        published="2026-09-01", card=card_ or card(), sample=Sample(id=sample), bench=bench_ or bench(),
        load=load_ or load(), setpoints=points, baseline=baseline, sequences={s.name: s for s in sequences},
        margins=Margins(by_quantity=margins or {}), trials=tuple(trials), claim_names={}, accepted=(), revisions=(),
        logs=None, invented=True, stopping_rule="", tokens=(), texts=(), source="", body_line=1, images={}, files={},
        front={},
    )  # fmt: skip


def site(*write_ups: WriteUp, running: bool = False, confidence_pct: float = 95.0) -> Site:
    money = Running(hours_a_day=4.0, days_a_year=250.0, tariff_per_kwh=0.3, currency=units.currency_unit("XTS"))
    return Site(
        settings=SiteSettings(
            title=text("Site"), summary=text("Summary"), address="", author="A", contact="", text_licence="CC-BY-4.0",
            data_licence="CC0-1.0", language="en", confidence_pct=confidence_pct, hedge_share_pct=5.0,
            running=money if running else None, notice="",
        ),
        benches={w.bench.id: w.bench for w in write_ups}, loads={w.load.id: w.load for w in write_ups},
        cards={w.card.id: w.card for w in write_ups}, write_ups={w.slug: w for w in write_ups}, files={},
    )  # fmt: skip


def at(address: str, scope: str = "quiet") -> Address:
    found = Address.parse(address, scope)
    assert found is not None, address
    return found


STOCK_W = (229.4, 230.2, 230.9, 229.8, 230.2)
TUNED_W = (193.1, 192.6, 193.9, 192.8, 193.1)
STOCK_SCORE = (10012.0, 9987.0, 10034.0, 9995.0, 10022.0)
TUNED_SCORE = (9941.0, 9962.0, 9925.0, 9958.0, 9949.0)


def two_setpoints(stock_w=STOCK_W, tuned_w=TUNED_W, **more) -> WriteUp:
    """Stock, tuned, stock ... in turn, so that the baseline lies on both sides of every tuned run."""
    bencher = Bencher()
    extra = more.pop("columns", {})
    for i in range(max(len(stock_w), len(tuned_w))):
        for watts, scores, point, change in (
            (stock_w, STOCK_SCORE, "stock", {}),
            (tuned_w, TUNED_SCORE, "tuned", {"power_limit_pct": 84.0}),
        ):
            if i < len(watts):
                named = {column: values[point][i] for column, values in extra.items()}
                bencher.run(set=change, score=scores[i], board_power_w=watts[i], duration_s=60.0 + i / 10, **named)
    return write_up(bencher.trials, **more)
