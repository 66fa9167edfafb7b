"""Sensor logs of one reading a second: warming up, working, cooling down, as the card's own sensors show them."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from .bench_model import CardModel, SampleModel, Setting, SteadyState, fan_rpm
from .instruments import BenchModel, board_power_reading
from .noise import Noise

IDLE_W = 14.0
IDLE_CLOCK_MHZ = 405.0
CORE_TIME_CONSTANT_S = 42.0
"""The core follows its steady temperature as a first-order lag."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Stretch:
    """A stretch of a session: a run with its steady state, or a pause."""

    start: datetime
    duration_s: int
    state: SteadyState | None
    setting: Setting
    ambient_c: float


@dataclass(frozen=True, kw_only=True, slots=True)
class Reading:
    """One line of a log, as read from the sensors and already in their steps."""

    at: datetime
    board_power_w: int
    core_temp_c: int
    hotspot_temp_c: int
    core_clock_mhz: int
    fan_rpm: int


def record(
    stretches: Iterable[Stretch], card: CardModel, sample: SampleModel, bench: BenchModel, noise: Noise
) -> list[Reading]:
    """Readings of all stretches, one a second."""
    found: list[Reading] = []
    temp_c = 0.0
    speed = card.fan_idle_rpm
    wander = 0.0
    for stretch in stretches:
        temp_c = temp_c or stretch.ambient_c + 22.0
        for second in range(stretch.duration_s):
            wander = 0.8 * wander + 0.6 * noise.normal()
            power_w, target_c, clock = IDLE_W, stretch.ambient_c + 11.0, IDLE_CLOCK_MHZ
            if stretch.state is not None:
                # every half minute the load changes scene, and for a second the card has less to do
                scene = 0.86 if second % 30 == 29 else 1.0
                power_w = stretch.state.board_power_w * (1 + 0.011 * wander) * scene
                target_c = stretch.state.core_temp_c
                clock = stretch.state.clock_mhz + 9.0 * noise.normal()
            temp_c += (target_c - temp_c) / CORE_TIME_CONSTANT_S
            speed += (fan_rpm(card, stretch.setting, temp_c) - speed) / 6.0
            found.append(
                Reading(
                    at=stretch.start + timedelta(seconds=second),
                    board_power_w=round(board_power_reading(bench, sample, power_w)),
                    core_temp_c=round(temp_c + 0.2 * noise.normal()),
                    hotspot_temp_c=round(temp_c + card.hotspot_k_per_w * power_w + 0.4 * noise.normal()),
                    core_clock_mhz=15 * round(clock / 15),
                    fan_rpm=10 * round((speed + 4 * noise.normal()) / 10),
                )
            )
    return found


def as_desk_csv(readings: Iterable[Reading]) -> bytes:
    """The first logger's way: semicolons, decimal commas, kilowatts, local time, Latin-1."""
    lines = ["Uhr lokal;Karte kW;Kern \u00b0C;Hei\u00dfpunkt \u00b0C;Takt MHz;L\u00fcfter /min"]
    for r in readings:
        kilowatts = f"{r.board_power_w / 1000:.3f}".replace(".", ",")
        stamp = r.at.strftime("%Y-%m-%d %H:%M:%S")
        lines.append(f"{stamp};{kilowatts};{r.core_temp_c};{r.hotspot_temp_c};{r.core_clock_mhz};{r.fan_rpm}")
    return ("\n".join(lines) + "\n").encode("latin-1")


def as_plain_csv(readings: Iterable[Reading]) -> bytes:
    """The second logger's way: commas, a unit in every header, seconds since 1970."""
    lines = ["t_unix,draw (W),die (C),hottest (C),clk (MHz),blower (rpm)"]
    lines += [
        f"{int(r.at.timestamp())},{r.board_power_w},{r.core_temp_c},{r.hotspot_temp_c},{r.core_clock_mhz},{r.fan_rpm}"
        for r in readings
    ]
    return ("\n".join(lines) + "\n").encode("utf-8")
