"""Benches, loads and cards: one YAML file each."""

from ..records.bench import Bench, Card, Instrument, Load, MeasuringPoint, Sample
from ..records.quantity import BY_COLUMN
from ..records.units import score_unit
from .fields import Fields
from .problem_list import clip, offer

_MEASURED_COLUMNS = tuple(BY_COLUMN)
UNKNOWN = "unknown"


def read_bench(name: str, fields: Fields) -> Bench | None:
    """A bench file; None with problems."""
    before = fields.problems.errors
    title = fields.text("name", required=True)
    facts = fields.text_map("facts")
    instruments = tuple(_instrument(key, inner) for key, _, inner in fields.named("instruments"))
    fields.finish()
    _one_instrument_a_column(fields, instruments)
    if fields.problems.errors > before:
        return None
    return Bench(id=name, name=title, facts=facts, instruments=instruments, where=fields.where())


def _limit(fields: Fields, key: str, *, above: float | None = None) -> float | None:
    """A limit of error or a step: a number of at least zero, the word `unknown`, or absent."""
    node = fields.value(key)
    if node is not None and node.kind == "scalar" and node.text == UNKNOWN:
        return None
    return fields.number(key, minimum=None if above is not None else 0.0, above=above)


def _instrument(name: str, fields: Fields) -> Instrument:
    columns = fields.texts("columns")
    if not fields.has("columns"):
        fields.value("columns", required=True)
    for node, column in zip(fields.sequence("columns"), columns, strict=True):
        if column not in _MEASURED_COLUMNS:
            fields.complain(
                "unknown-column",
                node,
                f"`{clip(column)}` is no measured column of trials.csv",
                offer(column, _MEASURED_COLUMNS, "Columns"),
            )
    calibrated = "no"
    if fields.has("calibrated") and fields.text("calibrated") != "no":
        calibrated = fields.date("calibrated")
    else:
        fields.value("calibrated")
    instrument = Instrument(
        id=name,
        name=fields.text("name", default=name.replace("-", " ")),
        columns=columns,
        measures_at=MeasuringPoint(
            fields.choice("measures_at", [p.value for p in MeasuringPoint], required=True) or "software"
        ),
        gain_error_pct=_limit(fields, "gain_error_pct"),
        offset_error=_limit(fields, "offset_error"),
        resolution=_limit(fields, "resolution"),
        sampling_interval_s=_limit(fields, "sampling_interval_s", above=0.0),
        reading=fields.choice("reading", ("instant", "average", UNKNOWN), UNKNOWN),
        calibrated=calibrated,
        channel_spread=fields.choice("channel_spread", ("bench", "card"), "card"),
    )
    fields.finish()
    return instrument


def _one_instrument_a_column(fields: Fields, instruments: tuple[Instrument, ...]) -> None:
    supplier: dict[str, str] = {}
    for instrument in instruments:
        for column in instrument.columns:
            if (other := supplier.setdefault(column, instrument.id)) != instrument.id:
                fields.wrong(
                    "instruments",
                    "two-instruments",
                    f"`{column}` is supplied by `{other}` and by `{instrument.id}`",
                    "Name each column under one instrument.",
                )


def read_load(name: str, fields: Fields) -> Load | None:
    """A load file; None with problems."""
    before = fields.problems.errors
    title = fields.text("name", required=True)
    version = fields.text("version", required=True)
    score = fields.inner("score", required=True)
    symbol, better = "points", "higher"
    if score is not None:
        symbol = score.text("unit", required=True) or symbol
        better = score.choice("better", ("higher", "lower"), "higher", required=True)
        score.finish()
        if len(symbol) > 32 or any(c in symbol for c in "{}[]()`|"):
            score.wrong("unit", "wrong-type", f"`{score.path('unit')}` is `{clip(symbol)}`, which is no unit name")
    load = Load(
        id=name,
        name=title,
        version=version,
        preset=fields.text("preset"),
        score_unit=score_unit(symbol),
        higher_is_better=better == "higher",
        run_length_s=fields.number("run_length_s", above=0.0),
        output_checked=fields.flag("output_checked", False),
        facts=fields.text_map("facts"),
        where=fields.where(),
    )
    fields.finish()
    return None if fields.problems.errors > before else load


def read_card(name: str, fields: Fields) -> Card | None:
    """A card file; None with problems."""
    before = fields.problems.errors
    maker = fields.text("maker", required=True)
    model = fields.text("model", required=True)
    stock = fields.number("stock_board_power_w", required=True, above=0.0)
    limits = _range(fields, "power_limit_range_pct")
    samples = tuple(_sample(key, inner) for key, _, inner in fields.named("samples", required=True))
    if not samples and fields.problems.errors == before:
        fields.wrong("samples", "missing-key", "`samples` names no sample", "Write `samples: {a: {}}`.")
    connectors = fields.texts("connectors")
    ratings = fields.text_map("ratings")
    fields.finish()
    if fields.problems.errors > before or stock is None or limits is None:
        return None
    return Card(
        id=name,
        maker=maker,
        model=model,
        stock_board_power_w=stock,
        power_limit_range_pct=limits,
        connectors=connectors,
        ratings=ratings,
        samples=samples,
        where=fields.where(),
    )


def _range(fields: Fields, key: str) -> tuple[float, float] | None:
    items = fields.sequence(key, required=True)
    if not items:
        return None
    numbers = [fields.number_of(node, fields.path(key), above=0.0) for node in items]
    known = [n for n in numbers if n is not None]
    if len(known) != len(numbers):
        return None
    if len(known) != 2 or known[0] > known[1]:
        fields.wrong(
            key, "wrong-type", f"`{fields.path(key)}` was expected to be the lowest and the highest", "Write [50, 110]."
        )
        return None
    return known[0], known[1]


def _sample(name: str, fields: Fields) -> Sample:
    if sum(c.isdigit() for c in name) > 3:
        fields.complain(
            "serial-number",
            fields.node,
            f"the sample name `{name}` looks like a serial number",
            "Give samples an alias such as a, b, c.",
        )
    sample = Sample(id=name, note=fields.text("note"), contributed=fields.text("contributed"))
    fields.finish()
    return sample
