"""One invented session with everything: setpoints, sweep, ladder, soak, two samples."""

from .factory import Bencher, bench, card, instrument, sequence, setpoint, site, write_up

NOISE = (0.6, -0.9, 0.2, 1.1, -0.4, -1.2, 0.8, 0.3, -0.7, 0.1, 0.9, -0.5, -0.2, 1.3, -1.0)
"""Fixed deviations: the tests must not depend on a generator of random numbers."""


def reading(limit_pct: float, offset_mv: float, step: int) -> dict[str, float]:
    """One run of an invented card: score saturates with power, a lower voltage helps a little."""
    wobble = NOISE[step % len(NOISE)]
    board_w = 2.3 * limit_pct + 0.4 * NOISE[(3 * step + 1) % len(NOISE)]
    rise_k = 0.18 * board_w
    return {
        "score": round(10000 * (limit_pct / 100) ** 0.25 * (1 - offset_mv / 3000) + 14 * wobble, 1),
        "board_power_w": round(board_w, 2),
        "wall_power_w": round(1.12 * board_w + 70 + 0.3 * NOISE[(5 * step + 2) % len(NOISE)], 2),
        "core_clock_mhz": round(2300 + 3 * (limit_pct - 84) + 2 * NOISE[(7 * step) % len(NOISE)], 1),
        "core_temp_c": round(21.5 + rise_k + 0.2 * NOISE[(2 * step + 4) % len(NOISE)], 2),
        "hotspot_temp_c": round(33.5 + rise_k + 0.3 * NOISE[(4 * step + 5) % len(NOISE)], 2),
        "ambient_c": round(21.5 + 0.05 * NOISE[(6 * step + 3) % len(NOISE)], 2),
        "fan_rpm": round(7.4 * board_w - 430 + 4 * NOISE[(8 * step + 6) % len(NOISE)], 1),
        "sound_dba": round(24 + board_w / 20 + 0.1 * NOISE[(9 * step) % len(NOISE)], 2),
        "duration_s": 60.0 + 0.1 * (step % 3),
    }


def instruments():
    return bench(
        instrument("board_power_w", id="clamp", name="clamp", gain_error_pct=1.5, offset_error=0.5, resolution=0.1),
        instrument("wall_power_w", id="plug", name="plug meter", gain_error_pct=1.0, offset_error=0.3, resolution=0.1),
        instrument("core_temp_c", id="diode", name="diode", gain_error_pct=0.5, offset_error=1.0, resolution=0.1),
        instrument("hotspot_temp_c", id="spot", name="spot diode", offset_error=1.0, resolution=0.1),
        instrument("ambient_c", id="thermometer", name="thermometer", offset_error=0.2, resolution=0.1),
        instrument("core_clock_mhz", id="counter", name="counter"),
        instrument("fan_rpm", id="tacho", name="tachometer", gain_error_pct=0.2),
        instrument("sound_dba", id="ear", name="sound level meter", offset_error=1.0),
    )


def session(slug: str = "quiet", sample: str = "a", shift: float = 0.0, spoiled=None):
    """A whole write-up; `spoiled` maps a run's number to changed readings or an outcome."""
    bencher = Bencher(timed=True)
    spoiled = spoiled or {}

    def go(limit_pct: float, offset_mv: float, count: int, name: str = "", failed: int = 0, duration_s: float = 0.0):
        for i in range(count):
            number = len(bencher.trials)
            values = reading(limit_pct, offset_mv, number)
            # every reading moves by another share, so that samples differ in their ratios as well
            values = {c: value * (1 + shift / (5000 + 700 * i)) for i, (c, value) in enumerate(values.items())}
            if duration_s:
                values["duration_s"] = duration_s
            outcome = "crashed" if i < failed else "completed"
            change = spoiled.get(number, {})
            outcome, excluded = change.get("outcome", outcome), change.get("excluded", "")
            values.update({k: v for k, v in change.items() if k in values})
            if outcome != "completed":
                values = {"duration_s": values["duration_s"]}
            bencher.run(
                set={"power_limit_pct": limit_pct, "voltage_offset_mv": offset_mv}, sequence=name, outcome=outcome,
                excluded=excluded, **values,
            )  # fmt: skip

    go(100.0, 0.0, 3)
    for limit in (60.0, 70.0, 80.0, 90.0, 100.0):
        go(limit, -130.0, 4, "walk")
    go(84.0, -130.0, 5)
    go(90.0, 0.0, 4)
    for offset in (-50.0, -110.0):
        go(100.0, offset, 3, "ladder")
    go(100.0, -150.0, 2, "ladder", failed=1)
    go(84.0, -130.0, 12, "soak", failed=1, duration_s=600.0)
    go(100.0, 0.0, 3)
    return write_up(
        bencher.trials, slug=slug, sample=sample, bench_=instruments(), card_=card(samples=("a", "b", "c")),
        setpoints=(
            setpoint("stock"),
            setpoint("tuned", power_limit_pct=84.0, voltage_offset_mv=-130.0),
            setpoint("mild", power_limit_pct=90.0),
        ),
        sequences=(
            sequence("walk", "walk", "power_limit_pct", voltage_offset_mv=-130.0),
            sequence("ladder", "ladder", "voltage_offset_mv"),
            sequence("soak", "soak", setpoint="tuned"),
        ),
        margins={"score": (1.0, True), "board-power": (2.0, False), "core-temperature": (0.5, False)},
    )  # fmt: skip


def whole_site(**spoiled_by_slug):
    """Three samples of one card, a write-up each."""
    return site(
        session("quiet", "a", spoiled=spoiled_by_slug.get("quiet")),
        session("second", "b", shift=35.0, spoiled=spoiled_by_slug.get("second")),
        session("third", "c", shift=-20.0, spoiled=spoiled_by_slug.get("third")),
        running=True,
    )
