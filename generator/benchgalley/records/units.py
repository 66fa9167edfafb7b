"""Units as testers write them, as pages print them and as open standards code them.

A small table of its own: a general units library costs more start-up time than a whole `check`
and knows neither benchmark points nor A-weighted levels. The tests compare every factor here with one.
"""

from dataclasses import dataclass
from functools import lru_cache


@dataclass(frozen=True, kw_only=True, slots=True)
class Unit:
    """One unit of one dimension."""

    symbol: str
    """As printed on pages, after a no-break space: `W`, `°C`, `points/W`."""
    ucum: str
    """Code of the Unified Code for Units of Measure, for the dataset: `W`, `Cel`, `{point}/W`."""
    dimension: str
    """Units convert into one another only within a dimension: `power`, `temperature`, `score:points` ..."""
    factor: float = 1.0
    """Value in the dimension's reference unit = value x factor + offset."""
    offset: float = 0.0
    """Zero shift in the reference unit; only the temperature scales have one."""
    spellings: tuple[str, ...] = ()
    """Further spellings accepted in files and in prose, lower or mixed case as written."""


def _u(symbol: str, ucum: str, dimension: str, factor: float = 1.0, offset: float = 0.0, words: str = "") -> Unit:
    spellings = tuple(w for w in words.split("|") if w)
    return Unit(symbol=symbol, ucum=ucum, dimension=dimension, factor=factor, offset=offset, spellings=spellings)


ONE = _u("", "1", "number")
RATIO = _u("times", "1", "ratio", words="×|fold|-fold")
PERCENT = _u("%", "%", "share", words="percent|per cent|pct")
PERCENTAGE_POINT = _u("percentage points", "%", "share-difference", words="percentage point|pp")
WATT = _u("W", "W", "power", words="watt|watts")
KILOWATT = _u("kW", "kW", "power", 1e3, words="kilowatt|kilowatts")
MILLIWATT = _u("mW", "mW", "power", 1e-3, words="milliwatt|milliwatts")
VOLT = _u("V", "V", "voltage", words="volt|volts")
MILLIVOLT = _u("mV", "mV", "voltage", 1e-3, words="millivolt|millivolts")
HERTZ = _u("Hz", "Hz", "frequency", words="hertz")
KILOHERTZ = _u("kHz", "kHz", "frequency", 1e3)
MEGAHERTZ = _u("MHz", "MHz", "frequency", 1e6, words="megahertz")
GIGAHERTZ = _u("GHz", "GHz", "frequency", 1e9, words="gigahertz")
CELSIUS = _u("°C", "Cel", "temperature", words="degC|degrees celsius|degree celsius|° C|℃|degrees|degree|°")
KELVIN = _u("K", "K", "temperature-difference", words="kelvin|kelvins")
REVOLUTIONS = _u("r/min", "{rev}/min", "rotation", words="rpm|RPM|rev/min|revolutions per minute")
DECIBEL_A = _u("dB", "dB", "sound-level", words="dBA|dB(A)|decibel|decibels")
SECOND = _u("s", "s", "time", words="sec|second|seconds")
MILLISECOND = _u("ms", "ms", "time", 1e-3, words="millisecond|milliseconds")
MINUTE = _u("min", "min", "time", 60.0, words="minute|minutes")
HOUR = _u("h", "h", "time", 3600.0, words="hour|hours|hr|hrs")
JOULE = _u("J", "J", "energy", words="joule|joules")
KILOJOULE = _u("kJ", "kJ", "energy", 1e3, words="kilojoule|kilojoules")
WATT_HOUR = _u("W h", "W.h", "energy", 3600.0, words="Wh|W·h|watt-hour|watt-hours|watt hours")
KILOWATT_HOUR = _u("kW h", "kW.h", "energy", 3.6e6, words="kWh|kW·h|kilowatt-hour|kilowatt-hours|kilowatt hours")
KILOWATT_HOUR_A_YEAR = _u(
    "kW h a year",
    "kW.h/a",
    "energy-per-year",
    words="kWh a year|kWh per year|kWh/year|kW h per year|kW h/year",
)
KELVIN_PER_WATT = _u("K/W", "K/W", "thermal-resistance", words="kelvin per watt|°C/W")
PER_HOUR = _u("per hour", "/h", "rate", words="an hour|/h")
GIGABYTE = _u("GB", "GBy", "data", 1e9, words="gigabyte|gigabytes")
GIBIBYTE = _u("GiB", "GiBy", "data", float(2**30))
AMPERE = _u("A", "A", "current", words="amp|amps|ampere|amperes")
RUNS = _u(
    "runs",
    "{run}",
    "count",
    words="run|trials|trial|repeats|repeat|samples|sample|cards|card|settings|setting",
)

UNITS: tuple[Unit, ...] = (
    RATIO, PERCENT, PERCENTAGE_POINT, WATT, KILOWATT, MILLIWATT, VOLT, MILLIVOLT, HERTZ, KILOHERTZ, MEGAHERTZ,
    GIGAHERTZ, CELSIUS, KELVIN, REVOLUTIONS, DECIBEL_A, SECOND, MILLISECOND, MINUTE, HOUR, JOULE, KILOJOULE,
    WATT_HOUR, KILOWATT_HOUR, KILOWATT_HOUR_A_YEAR, KELVIN_PER_WATT, PER_HOUR, GIGABYTE, GIBIBYTE, AMPERE, RUNS,
)  # fmt: skip
"""Every unit with a fixed meaning. Score units come from the load files: see `score_unit`."""


@lru_cache(maxsize=256)
def score_unit(symbol: str) -> Unit:
    """The unit of a load's score, e.g. `points`; convertible into nothing else, not even another load's points.

    A load that counts in a unit of the table, such as `s`, has that unit's code and spellings.
    """
    fixed = find_unit(symbol)
    if fixed is not None:
        others = tuple(w for w in (fixed.symbol, *fixed.spellings) if w and w != symbol)
        return Unit(symbol=symbol, ucum=fixed.ucum, dimension=f"score:{symbol}", spellings=others)
    return Unit(symbol=symbol, ucum="{" + symbol + "}", dimension=f"score:{symbol}", spellings=_plural(symbol))


def told_in(unit: Unit) -> Unit:
    """The unit of the table a score is counted in: the second for a load scored in `s`; any other unit itself."""
    if not unit.dimension.startswith("score:") or "/" in unit.dimension:
        return unit
    return find_unit(unit.symbol) or unit


def _plural(symbol: str) -> tuple[str, ...]:
    if len(symbol) < 2:
        return ()
    return (symbol.removesuffix("s"),) if symbol.endswith("s") else (symbol + "s",)


def _singular(unit: Unit) -> str:
    """Symbol after a stroke: a score's unit is a word and stands in the singular there, as in `J/point`."""
    symbol = unit.symbol
    if "/" in symbol:
        # a second stroke needs brackets (ISO 80000-1; from memory)
        return f"({symbol})"
    is_word = unit.dimension.startswith("score:") and symbol.isalpha() and len(symbol) > 3
    return symbol.removesuffix("s") if is_word and not symbol.endswith("ss") else symbol


@lru_cache(maxsize=256)
def per(top: Unit, bottom: Unit) -> Unit:
    """The compound unit `top/bottom`, with the spellings `a per b` and `a/b` of both parts."""
    tops = (top.symbol, *top.spellings)
    bottoms = (bottom.symbol, *bottom.spellings)
    spellings = tuple(f"{a} {join} {b}" for a in tops for b in bottoms for join in ("per", "a"))
    spellings += tuple(f"{a}/{b}" for a in tops for b in bottoms)
    return Unit(
        symbol=f"{top.symbol}/{_singular(bottom)}",
        ucum=f"{top.ucum}/{bottom.ucum}",
        dimension=f"{top.dimension}/{bottom.dimension}",
        factor=top.factor / bottom.factor,
        spellings=spellings,
    )


@lru_cache(maxsize=64)
def currency_unit(code: str) -> Unit:
    """Money in the site's currency (ISO 4217 code or an invented one)."""
    return Unit(symbol=code, ucum="{" + code + "}", dimension=f"money:{code}")


@lru_cache(maxsize=64)
def currency_a_year(code: str) -> Unit:
    """Money a year in the site's currency."""
    words = (f"{code} per year", f"{code}/year")
    return Unit(symbol=f"{code} a year", ucum="{" + code + "}/a", dimension=f"money-per-year:{code}", spellings=words)


_BY_SPELLING: dict[str, Unit] = {}
for _unit in reversed(UNITS):
    for _word in (_unit.symbol, *_unit.spellings):
        _BY_SPELLING[_word] = _unit


def find_unit(spelling: str) -> Unit | None:
    """The unit written so, or None. Symbols are matched by case (`mW` is not `MW`), words without it."""
    word = " ".join(spelling.replace("\u00a0", " ").replace("\u202f", " ").split())
    return _BY_SPELLING.get(word) or _BY_SPELLING.get(word.lower() if len(word) > 3 else word)


def convert(value: float, unit: Unit, into: Unit) -> float:
    """Value in `into`. Raises ValueError when the dimensions differ."""
    if unit.dimension != into.dimension:
        raise ValueError(f"{unit.symbol or 'a plain number'} does not convert into {into.symbol or 'a plain number'}")
    if unit == into:
        return value
    return (value * unit.factor + unit.offset - into.offset) / into.factor
