"""The physical model behind the demo's invented data.

One card under load is four coupled relations, solved together for a steady state:

* board power  P = P_fixed + c_mem f_mem + L V^2 exp((T - 50 degC) / T_L) + a C V^2 f
  (leakage grows exponentially with temperature; dynamic power of switched capacitance);
* voltage      V(f) = max(V_floor, V_ref + k1 (f - f_ref) + k2 (f - f_ref)^2) + offset (the V-f curve, moved by
  the tester's offset and by the sample's own silicon);
* temperature  T = T_ambient + R(n) P, with the thermal resistance R(n) = R_ref (n_ref / n)^0.55 and a fan curve
  n(T) = n_idle + slope (T - T_start), held inside the fan's range;
* governor     the highest clock f <= f_max whose board power does not exceed limit x stock board power.

Work done: 1 / s = (w f_ref / f + (1 - w) m_ref / m) / s_ref, a core part and a memory part one after the other, so
that the score saturates when only one of the two is raised.

Stability: the margin of a sample is its guard band plus the voltage offset, in mV. A run fails with probability
1 / (1 + exp(margin / width)); memory has a margin of its own. How it fails is drawn by depth.

Everything is invented; the forms are textbook ones (dynamic power C V^2 f; leakage close to exponential in
temperature, arXiv:1404.3381; fan laws). No number here was measured on any real card.
"""

import math
from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True, slots=True)
class CardModel:
    """What all samples of one card have in common."""

    stock_board_power_w: float
    f_max_mhz: float
    f_ref_mhz: float
    v_ref_mv: float
    slope_mv_per_mhz: float
    curvature_mv_per_mhz2: float
    v_floor_mv: float
    switched_w_per_v2_ghz: float
    """a C of the dynamic power, in watts for one volt squared and one gigahertz."""
    leakage_w_per_v2: float
    """Leakage at 50 degrees Celsius, in watts for one volt squared."""
    fixed_w: float
    memory_mhz: float
    memory_w_per_ghz: float
    resistance_k_per_w: float
    """Core to ambient, at `fan_ref_rpm`."""
    fan_ref_rpm: float
    fan_idle_rpm: float
    fan_max_rpm: float
    fan_start_c: float
    fan_rpm_per_k: float
    quiet_fan_rpm: float
    """Highest fan speed in the fan mode `quiet`."""
    hotspot_k_per_w: float
    """Hotspot above core."""


@dataclass(frozen=True, kw_only=True, slots=True)
class SampleModel:
    """What one physical card has of its own."""

    curve_shift_mv: float
    leakage_factor: float
    resistance_factor: float
    guard_mv: float
    """How far the voltage may be lowered before half of the runs fail."""
    guard_width_mv: float
    memory_guard_mhz: float
    sensor_gain: float
    """Reading over truth of the card's own power sensor."""
    sensor_offset_w: float


@dataclass(frozen=True, kw_only=True, slots=True)
class LoadModel:
    """What a load does to a card."""

    score_ref: float
    core_share: float
    """w: share of the run bound by the core clock at the reference clocks."""
    activity: float
    """a relative to 1: how much of the core switches."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Setting:
    """What the tester set."""

    power_limit_pct: float = 100.0
    voltage_offset_mv: float = 0.0
    memory_offset_mhz: float = 0.0
    fan_mode: str = "auto"


@dataclass(frozen=True, kw_only=True, slots=True)
class SteadyState:
    """Where card, cooler and governor settle. True values, before any instrument."""

    clock_mhz: float
    memory_mhz: float
    voltage_mv: float
    board_power_w: float
    core_temp_c: float
    hotspot_temp_c: float
    fan_rpm: float
    score: float


def voltage_mv(card: CardModel, sample: SampleModel, setting: Setting, clock_mhz: float) -> float:
    """V(f) in millivolts."""
    above = clock_mhz - card.f_ref_mhz
    curve = card.v_ref_mv + card.slope_mv_per_mhz * above + card.curvature_mv_per_mhz2 * above * above
    if above < 0:  # the parabola would turn up again left of its foot
        curve = card.v_ref_mv + card.slope_mv_per_mhz * above
    return max(card.v_floor_mv, curve) + sample.curve_shift_mv + setting.voltage_offset_mv


def fan_rpm(card: CardModel, setting: Setting, core_temp_c: float) -> float:
    """Fan curve in revolutions per minute."""
    speed = card.fan_idle_rpm + card.fan_rpm_per_k * (core_temp_c - card.fan_start_c)
    ceiling = card.quiet_fan_rpm if setting.fan_mode == "quiet" else card.fan_max_rpm
    return min(ceiling, max(card.fan_idle_rpm, speed))


def settle(
    card: CardModel, sample: SampleModel, load: LoadModel, setting: Setting, clock_mhz: float, ambient_c: float
) -> tuple[float, float, float]:
    """Board power (W), core temperature (degrees Celsius) and fan speed (r/min) at a given clock."""
    volts = voltage_mv(card, sample, setting, clock_mhz) / 1000.0
    memory_ghz = (card.memory_mhz + setting.memory_offset_mhz) / 1000.0
    dynamic_w = card.switched_w_per_v2_ghz * load.activity * volts * volts * clock_mhz / 1000.0
    steady_w = card.fixed_w + card.memory_w_per_ghz * memory_ghz + dynamic_w
    temp_c, power_w, speed = 60.0, 0.0, card.fan_ref_rpm
    for _ in range(40):  # damped fixed point: leakage heats, heat leaks
        leak_w = card.leakage_w_per_v2 * sample.leakage_factor * volts * volts * math.exp((temp_c - 50.0) / 45.0)
        power_w = steady_w + leak_w
        speed = fan_rpm(card, setting, temp_c)
        resistance = card.resistance_k_per_w * sample.resistance_factor * (card.fan_ref_rpm / speed) ** 0.55
        temp_c += 0.5 * (ambient_c + resistance * power_w - temp_c)
    return power_w, temp_c, speed


def steady_state(
    card: CardModel, sample: SampleModel, load: LoadModel, setting: Setting, ambient_c: float
) -> SteadyState:
    """Let the governor find its clock by bisection and return where everything settles."""
    limit_w = card.stock_board_power_w * setting.power_limit_pct / 100.0
    low, high = 0.4 * card.f_max_mhz, card.f_max_mhz
    if settle(card, sample, load, setting, high, ambient_c)[0] > limit_w:
        for _ in range(40):
            middle = (low + high) / 2
            if settle(card, sample, load, setting, middle, ambient_c)[0] > limit_w:
                high = middle
            else:
                low = middle
        clock = low
    else:
        clock = high
    power_w, temp_c, speed = settle(card, sample, load, setting, clock, ambient_c)
    memory = card.memory_mhz + setting.memory_offset_mhz
    share = load.core_share * card.f_ref_mhz / clock + (1 - load.core_share) * card.memory_mhz / memory
    return SteadyState(
        clock_mhz=clock,
        memory_mhz=memory,
        voltage_mv=voltage_mv(card, sample, setting, clock),
        board_power_w=power_w,
        core_temp_c=temp_c,
        hotspot_temp_c=temp_c + card.hotspot_k_per_w * power_w,
        fan_rpm=speed,
        score=load.score_ref / share,
    )


def failure_probability(sample: SampleModel, setting: Setting, run_s: float) -> float:
    """Chance that one run of `run_s` seconds fails; a run of twice the length has two chances."""
    margin_mv = sample.guard_mv + setting.voltage_offset_mv
    core = 1.0 / (1.0 + math.exp(margin_mv / sample.guard_width_mv))
    spare_mhz = sample.memory_guard_mhz - setting.memory_offset_mhz
    memory = 1.0 / (1.0 + math.exp(spare_mhz / 40.0))
    return 1.0 - ((1.0 - core) * (1.0 - memory)) ** (run_s / 120.0)


def failure_kind(sample: SampleModel, setting: Setting, draw: float) -> str:
    """How a failed run ended, from a uniform draw: memory shows artefacts, a deep offset crashes, a near miss hangs."""
    if setting.memory_offset_mhz > sample.memory_guard_mhz - 150.0:
        return "artefacts" if draw < 0.85 else "hung"
    if sample.guard_mv + setting.voltage_offset_mv < -5.0:
        return "crashed" if draw < 0.8 else "hung"
    if draw < 0.45:
        return "crashed"
    return "artefacts" if draw < 0.75 else "hung"
