"""The two invented benches: what their instruments make of the true values.

Every systematic error lies inside the limits stated in content/benches/*.yaml, so that the intervals on the site are
honest ones.
"""

import math
from dataclasses import dataclass

from .bench_model import SampleModel, SteadyState
from .noise import Noise


@dataclass(frozen=True, kw_only=True, slots=True)
class BenchModel:
    """True systematic errors of one bench and the draw of the computer around the card."""

    own_sensor: bool
    """Whether board power is read from the card's own sensor instead of a meter at slot and cable."""
    meter_gain: float
    meter_offset_w: float
    wall_gain: float
    host_w: float
    supply_efficiency: float
    thermometer_offset_k: float
    sound_floor_dba: float
    sound_at_1000_rpm_dba: float


RISER_BENCH = BenchModel(
    own_sensor=False, meter_gain=1.0031, meter_offset_w=0.08, wall_gain=1.006, host_w=46.0,
    supply_efficiency=0.905, thermometer_offset_k=0.14, sound_floor_dba=0.0, sound_at_1000_rpm_dba=0.0,
)  # fmt: skip
DESK_BENCH = BenchModel(
    own_sensor=True, meter_gain=1.0, meter_offset_w=0.0, wall_gain=0.993, host_w=58.0, supply_efficiency=0.915,
    thermometer_offset_k=-0.2, sound_floor_dba=24.6, sound_at_1000_rpm_dba=31.5,
)  # fmt: skip


def board_power_reading(bench: BenchModel, sample: SampleModel, true_w: float) -> float:
    """What the bench's power channel shows for a true board power, unrounded."""
    if bench.own_sensor:
        return sample.sensor_gain * true_w + sample.sensor_offset_w
    return bench.meter_gain * true_w + bench.meter_offset_w


def sound_level_dba(bench: BenchModel, fan_rpm: float) -> float:
    """Fan noise by the fan law (50 dB a decade of speed) on top of the room's own level, in dB."""
    fan_power = 10 ** (bench.sound_at_1000_rpm_dba / 10) * (fan_rpm / 1000.0) ** 5
    return 10 * math.log10(fan_power + 10 ** (bench.sound_floor_dba / 10))


def readings(
    bench: BenchModel, sample: SampleModel, state: SteadyState, ambient_c: float, score: float, noise: Noise
) -> dict[str, float]:
    """One completed run as the tester would type it: canonical column to value, not yet rounded."""
    power_w = state.board_power_w * (1 + 0.0016 * noise.normal())
    return {
        "score": score,
        "board_power_w": board_power_reading(bench, sample, power_w),
        "wall_power_w": bench.wall_gain * (bench.host_w + power_w + 0.5 * noise.normal()) / bench.supply_efficiency,
        "core_clock_mhz": state.clock_mhz + 2.5 * noise.normal(),
        "core_temp_c": state.core_temp_c + 0.22 * noise.normal(),
        "hotspot_temp_c": state.hotspot_temp_c + 0.35 * noise.normal(),
        "ambient_c": ambient_c + bench.thermometer_offset_k + 0.03 * noise.normal(),
        "fan_rpm": state.fan_rpm + 6.0 * noise.normal(),
        "sound_dba": sound_level_dba(bench, state.fan_rpm) + 0.25 * noise.normal(),
    }
