"""The write-up made of a reader's runs: front matter by what was run, a table whose numbers are claims."""

import csv
import io
import json
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from benchgalley.records.address import Address
from benchgalley.records.quantity import SETTINGS
from benchgalley.records.results import Results
from benchgalley.records.site import Site

from .received_file import COLUMNS, SOAK, Received, Row, Setting

STOCK: Setting = (100.0, 0.0)
BENCH = "readers"
BENCH_FILE = """\
# Made when the first reader's runs were taken in: what readers' machines have in common, which is little.
name: Readers' own machines
facts:
  Host: Each reader's own; not recorded
  Case: Each reader's own; not recorded
instruments:
  card-sensor:
    name: The card's own sensors
    columns: [board_power_w, core_temp_c, hotspot_temp_c]
    measures_at: card sensor
    reading: unknown
    calibrated: "no"
    channel_spread: card
  software:
    name: The driver's counters
    columns: [core_clock_mhz, fan_rpm]
    measures_at: software
    reading: unknown
    calibrated: "no"
    channel_spread: card
  thermometer:
    name: The reader's thermometer
    columns: [ambient_c]
    measures_at: air
    reading: unknown
    calibrated: "no"
    channel_spread: card
"""

_TABLE = (("score", ""), ("score", "of-baseline"), ("board-power", ""), ("board-power", "saved"))
"""(quantity, relation) of the columns of the table."""
_HEADS = "| Setting | Score | Of stock | Board power | Saved |\n| :-- | --: | --: | --: | --: |\n"


@dataclass(frozen=True, kw_only=True, slots=True)
class Arrival:
    """A received file with what was decided about it."""

    received: Received
    card: str
    model: str
    load: str
    sample: str
    slug: str
    by: str
    on: str
    """ISO 8601 date."""
    despite: str
    """Reason for taking it in although something about it is doubtful."""
    names: Mapping[Setting, tuple[str, str]]
    """Setting → (setpoint, label) of the write-ups already there for this card."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Shape:
    """What the runs are, by their settings."""

    setpoints: Mapping[Setting, tuple[str, str]]
    ladder: bool
    walks: tuple[float, ...]
    """Voltage offsets at which the power limit was walked."""
    soaks: Mapping[Setting, str]
    """Soaked setting → name of the sequence."""


def known_names(site: Site, card: str) -> dict[Setting, tuple[str, str]]:
    """Setpoints of the card's write-ups: equal settings take equal names, so that samples pool."""
    found: dict[Setting, tuple[str, str]] = {}
    for write_up in site.write_ups.values():
        for setpoint in write_up.setpoints.values() if write_up.card.id == card else ():
            others = {s.column: s.default for s in SETTINGS[2:]}
            limit, offset = (setpoint.settings[c] for c in ("power_limit_pct", "voltage_offset_mv"))
            if not (isinstance(limit, float) and isinstance(offset, float)):
                continue
            if all(setpoint.settings[c] == v for c, v in others.items()):
                found.setdefault((limit, offset), (setpoint.name, setpoint.label))
    return found


def shape_of(rows: Iterable[Row], names: Mapping[Setting, tuple[str, str]]) -> Shape:
    """Setpoints, sequences and soaks in a set of runs. Every run gets a place."""
    counts: dict[Setting, int] = {}
    soaked: list[Setting] = []
    for row in rows:
        if row.soak:
            soaked += [row.setting] if row.setting not in soaked else []
        else:
            counts[row.setting] = counts.get(row.setting, 0) + 1
    offsets = {offset for limit, offset in counts if limit == 100.0}
    ladder = len(offsets) > 1
    limits: dict[float, int] = {}
    for _, offset in counts:
        limits[offset] = limits.get(offset, 0) + 1
    walks = tuple(sorted((o for o, number in limits.items() if number > 2), reverse=True))
    setpoints = {
        setting: names.get(setting) or _name(setting)
        for setting, number in counts.items()
        if number > 1 or setting in (STOCK, *soaked) or not (setting[1] in walks or (ladder and setting[0] == 100.0))
    }
    soaks = {setting: SOAK if n == 0 else f"{SOAK}-{n + 1}" for n, setting in enumerate(soaked)}
    return Shape(setpoints=setpoints, ladder=ladder, walks=walks, soaks=soaks)


def _name(setting: Setting) -> tuple[str, str]:
    if setting == STOCK:
        return "stock", "Stock"
    limit, offset = (f"{abs(value):g}".replace(".", "-") for value in setting)
    name = f"limit-{limit}-{'plus' if setting[1] > 0 else 'offset'}-{offset}"
    return name, f"{setting[0]:g} %, {setting[1]:g} mV"


def trials_of(received: Received, shape: Shape) -> bytes:
    """trials.csv: the rows as sent, soaks at a second setting told apart."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    for row in received.rows:
        cells = row.cells | ({"sequence": shape.soaks[row.setting]} if row.soak else {})
        writer.writerow([cells.get(column, "") for column in COLUMNS])
    return out.getvalue().encode()


def write_up_of(arrival: Arrival, shape: Shape, table: str) -> bytes:
    """write-up.md with a finished table, or without one."""
    received = arrival.received
    model = re.sub(r"([\\`*_\[\]<>&])", r"\\\1", arrival.model)
    front = [
        "---",
        f"# Taken in by `benchgalley receive` from {received.path.name!r}, SHA-256 {received.digest}",
        f"title: {_quoted(f'Sample {arrival.sample} of the {model}: runs sent in by a reader')}",
        "summary: Made with the worksheet on a machine of the reader's own. The author has not repeated them.",
        f"published: {arrival.on}",
        f"card: {arrival.card}",
        f"sample: {arrival.sample}",
        f"bench: {BENCH}",
        f"load: {arrival.load}",
        "setpoints:",
        *(f"  {name}: {_settings(setting, label)}" for setting, (name, label) in shape.setpoints.items()),
        f"baseline: {shape.setpoints[STOCK][0]}",
        *_sequences(shape),
        *_margin(received.about),
        "---",
        "",
    ]
    return ("\n".join(front) + "\n" + _body(arrival, table)).encode()


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)


def _settings(setting: Setting, label: str) -> str:
    parts = [] if setting[0] == 100.0 else [f"power_limit_pct: {setting[0]:g}"]
    parts += [] if setting[1] == 0.0 else [f"voltage_offset_mv: {setting[1]:g}"]
    return "{" + ", ".join([*parts, f"label: {_quoted(label)}"]) + "}"


def _sequences(shape: Shape) -> list[str]:
    lines = ["  offset-ladder: {kind: ladder, setting: voltage_offset_mv, order: falling}"] if shape.ladder else []
    for number, offset in enumerate(shape.walks):
        name = "limit-walk" if number == 0 else f"limit-walk-{number + 1}"
        held = f"{{voltage_offset_mv: {offset:g}}}"
        lines.append(f"  {name}: {{kind: walk, setting: power_limit_pct, held: {held}, order: falling}}")
    for setting, name in shape.soaks.items():
        lines.append(f"  {name}: {{kind: soak, setpoint: {shape.setpoints[setting][0]}}}")
    return ["sequences:", *lines] if lines else []


def _margin(about: Mapping[str, str]) -> list[str]:
    margin = about.get("margin_pct", "")
    return [f"margins: {{score: {margin} %}}"] if re.fullmatch(r"(?!0*\.?0*$)\d{1,2}(\.\d{1,3})?", margin) else []


def _body(arrival: Arrival, table: str) -> str:
    name = arrival.received.path.name.replace("`", "'")
    parts = [
        "These runs were made by a reader on a machine of their own, with the worksheet of this site. The author has "
        "not repeated them. Board power and temperatures are what the card's own sensors told.",
        table,
        "## Where they come from",
        f"Taken in on {arrival.on} from the file `{name}` (`SHA-256 {arrival.received.digest}`). Before that they were "
        "compared with the runs already on this site, with the maker's figures and with themselves.",
    ]
    if arrival.despite:
        parts.append(f"Something about them was doubtful. They were taken in for this reason: `{arrival.despite}`")
    return "\n\n".join(part for part in parts if part) + "\n"


def table_of(arrival: Arrival, shape: Shape, results: Results, without: frozenset[str] = frozenset()) -> str:
    """The table of setpoints that were repeated; each number is a claim on the runs. `without`: addresses left out."""
    repeated = [
        s
        for s in shape.setpoints
        if sum(r.setting == s and r.completed and not r.soak for r in arrival.received.rows) > 1
    ]
    lines = []
    for setting in repeated:
        name, label = shape.setpoints[setting]
        cells = [_cell(arrival.slug, name, quantity, relation, results, without) for quantity, relation in _TABLE]
        lines.append(f"| {label.replace('|', '/')} | {' | '.join(cells)} |")
    return _HEADS + "\n".join(lines) if lines else ""


def _cell(slug: str, setpoint: str, quantity: str, relation: str, results: Results, without: frozenset[str]) -> str:
    address = Address(scope=slug, subject=setpoint, quantity=quantity, relation=relation)
    number = results.find(address)
    if number is None or number.value is None or address.local() in without:
        return ""
    return f"[{number.printed.text}](claim:{address.local()})"
