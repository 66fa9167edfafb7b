"""A small invented session in which nothing is wrong, to be spoiled one thing at a time.

Two setpoints, stock and tuned, run in turn: nine stock runs bracket eight tuned ones, over two days, with a
calibrated meter, a second sample measured elsewhere on the site, and every fact recorded.
"""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

from benchgalley.caveats import examine
from benchgalley.derive import evaluate
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
)
from benchgalley.records.findings import Location
from benchgalley.records.quantity import SETTINGS
from benchgalley.records.site import Site, SiteSettings
from benchgalley.records.write_up import Claim, Margins, Text, Verdict, WriteUp

HERE = Location(file="made/up.md")
STOCK = {s.column: s.default for s in SETTINGS}
START = datetime(2026, 9, 1, 9, 0, tzinfo=UTC)
SCATTER = (0.3, -0.2, 0.1, -0.4, 0.4, -0.1, 0.2, -0.3, 0.0)
"""Evenly spread and in no order: no two groups, no outlier, no drift."""


def text(words="", place="paragraph"):
    return Text(place=place, text=words, positions=tuple((1, i + 1) for i in range(len(words))), file=HERE.file)


def instrument(id, *columns, at=MeasuringPoint.SLOT_AND_CABLE, **changed):
    sound = Instrument(
        id=id, name=f"the {id}", columns=columns, measures_at=at, gain_error_pct=1.0, offset_error=0.1,
        resolution=0.1, sampling_interval_s=0.1, reading="average", calibrated="2026-03-01", channel_spread="bench",
    )  # fmt: skip
    return replace(sound, **changed)


def bench(**changed):
    sound = Bench(
        id="shed", name="Shed bench",
        facts={"Host": "eight cores", "Supply": "650 W", "Case": "open frame", "Room": "cellar"},
        instruments=(
            instrument("meter", "board_power_w"),
            instrument("thermometer", "ambient_c", "core_temp_c", at=MeasuringPoint.AIR),
        ),
        where=HERE,
    )  # fmt: skip
    return replace(sound, **changed)


def load(**changed):
    sound = Load(
        id="harbour", name="Harbour scene", version="1.2", preset="high", score_unit=units.score_unit("points"),
        higher_is_better=True, run_length_s=120.0, output_checked=True, facts={}, where=HERE,
    )  # fmt: skip
    return replace(sound, **changed)


def card(**changed):
    sound = Card(
        id="lantern", maker="Quillmark", model="Lantern 60", stock_board_power_w=200.0,
        power_limit_range_pct=(50.0, 110.0), connectors=("8-pin", "8-pin"), ratings={},
        samples=(Sample(id="a"), Sample(id="b")), where=HERE,
    )  # fmt: skip
    return replace(sound, **changed)


def setpoint(name, **settings):
    return Setpoint(name=name, settings={**STOCK, **settings}, label=name, where=HERE)


def sequence(name, kind, setting="", setpoint="", **held):
    others = {c: held.get(c, v) for c, v in STOCK.items() if c != setting}
    return Sequence(
        name=name, kind=SequenceKind(kind), setting=setting, held={} if kind == "soak" else others,
        setpoint=setpoint, order="shuffled", label=name, where=HERE,
    )  # fmt: skip


def run(number, settings=None, outcome="completed", start=None, **changed):
    """One run; `number` gives its id and place, `measured` its values."""
    sound = Trial(
        id=f"r{number}", line=number + 2, order=number, settings={**STOCK, **(settings or {})},
        outcome=Outcome(outcome), measured={}, decimals={}, started=start or START + timedelta(minutes=4 * number),
        driver="7.1",
    )  # fmt: skip
    return replace(sound, **changed)


TUNED = {"power_limit_pct": 84.0}


def good_runs(stock_w=195.0, tuned_w=163.0, pairs=8, tuned=TUNED):
    """stock, tuned, stock ... stock; a night lies in the middle."""
    runs = []
    for i in range(2 * pairs + 1):
        is_stock = i % 2 == 0
        noise = SCATTER[(i // 2) % len(SCATTER)]
        night = timedelta(days=1) if i >= pairs else timedelta()
        measured = {
            "score": (8000.0 if is_stock else 7900.0) + 20 * noise,
            "board_power_w": (stock_w if is_stock else tuned_w) + noise,
            "core_temp_c": (70.0 if is_stock else 64.0) + noise,
            "ambient_c": 22.0 + noise,
            "duration_s": 120.0 + noise,
        }
        runs.append(
            run(
                i,
                {} if is_stock else tuned,
                start=START + timedelta(minutes=4 * i) + night,
                measured=measured,
                decimals={"board_power_w": 1},
            )
        )
    return tuple(runs)


def write_up(runs=None, *, slug="quiet", sample="a", setpoints=None, sequences=(), prose="", **changed):
    points = setpoints or (setpoint("stock"), setpoint("tuned", **TUNED))
    sound = WriteUp(
        slug=slug, folder=f"content/write-ups/{slug}", title=text("Title", "title"), summary=text("S", "summary"),
        published="2026-09-20", card=card(), sample=Sample(id=sample), bench=bench(), load=load(),
        setpoints={p.name: p for p in points}, baseline="stock", sequences={s.name: s for s in sequences},
        margins=Margins(by_quantity={}), trials=good_runs() if runs is None else tuple(runs), claim_names={},
        accepted=(), revisions=(), logs=None, invented=True, stopping_rule="Fixed beforehand.", tokens=(),
        texts=(text(prose),), source="", body_line=1, images={}, files={}, front={},
    )  # fmt: skip
    return replace(sound, **changed)


def site(*write_ups, confidence_pct=95.0):
    return Site(
        settings=SiteSettings(
            title=text("Site"), summary=text("S"), address="", author="A", contact="", text_licence="CC-BY-4.0",
            data_licence="CC0-1.0", language="en", confidence_pct=confidence_pct, hedge_share_pct=5.0, running=None,
            notice="",
        ),
        benches={w.bench.id: w.bench for w in write_ups}, loads={w.load.id: w.load for w in write_ups},
        cards={w.card.id: w.card for w in write_ups}, write_ups={w.slug: w for w in write_ups}, files={},
    )  # fmt: skip


def claim(address, slug="quiet"):
    return Claim(
        write_up=slug, where=HERE, place="paragraph", stated="", sentence="", address=Address.parse(address, slug),
        verdict=Verdict.AGREES, message="",
    )  # fmt: skip


def window(column="board_power_w", **changed):
    sound = Window(
        column=column, log="logs/a.csv", start_s=10.0, end_s=110.0, readings=101, effective_readings=60.0, mean=163.0,
        minimum=160.0, maximum=166.0, percentile_95=165.0, integral=16300.0, coverage_pct=98.0, repeated_pct=10.0,
        step=0.1, largest_gap_s=1.0, slope_per_min=0.1,
    )  # fmt: skip
    return replace(sound, **changed)


OTHER_SAMPLE = write_up(slug="other-sample", sample="b")
"""So that the card has two samples on the site."""


def found(own, claims=(), others=(OTHER_SAMPLE,), confidence_pct=95.0):
    """What the door says of a write-up, its prose claiming these addresses."""
    whole = site(own, *others, confidence_pct=confidence_pct)
    return examine(own, whole, evaluate(whole), tuple(claim(a, own.slug) for a in claims))


def caveats(own, claims=(), **more):
    """Code → caveat."""
    raised = found(own, claims, **more).caveats
    assert len({c.code for c in raised}) == len(raised), "a code is raised once at most"
    return {c.code: c for c in raised}


def hazards(own, **more):
    """Code → hazard note."""
    return {h.code: h for h in found(own, **more).hazards}
