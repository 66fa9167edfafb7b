"""Figures of the trade: power, fans, heat, sound, energy, connectors.

Relations marked "common practice" have no single published source; the rest name theirs.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from types import MappingProxyType

from .sample import NotDetermined, Numbers, as_list, finite

HOURS_PER_YEAR = 8760.0
JOULES_PER_KWH = 3.6e6

SLOT_W = 75.0
"""sustained power of a full-size graphics slot, all rails (PCI Express card electromechanical limits)"""
SLOT_12V_W = 66.0
"""share of the slot from its 12 V rail: 5.5 A"""
SLOT_3V3_W = 9.9
"""share of the slot from its 3.3 V rail: 3 A"""
CONNECTOR_W = MappingProxyType({"slot": SLOT_W, "6-pin": 75.0, "8-pin": 150.0, "16-pin": 600.0, "12V-2x6": 600.0})
"""sustained power by connector, W (PCI Express CEM 5.0, table of connector limits)"""
CONNECTOR_MAX_A = MappingProxyType({"6-pin": 6.75, "8-pin": 13.5, "16-pin": 55.0})
"""largest current by connector, A"""
SUPPLY_CONTACTS = MappingProxyType({"6-pin": 3, "8-pin": 3, "16-pin": 6, "12V-2x6": 6})
"""contacts that carry 12 V (common practice; a 6-pin may wire only two)"""
CONTACT_LIMIT_A = 9.2
"""current per contact the 16-contact connector is rated for, A"""


def _above_zero(value: float, what: str) -> float:
    if not 0 < value < math.inf:
        raise NotDetermined(f"the {what} lies above zero")
    return float(value)


def dynamic_power_w(activity: float, capacitance_f: float, voltage_v: float, frequency_hz: float) -> float:
    """Switching power alpha C V^2 f, W.

    Parameters
    ----------
    activity : float
        Share of cycles in which the capacitance is charged.
    capacitance_f, voltage_v, frequency_hz : float
        Farad, volt, hertz.

    Notes
    -----
    Weste and Harris, CMOS VLSI Design, 4th ed. (2011), 5.2.

    Examples
    --------
    >>> round(dynamic_power_w(0.1, 27e-9, 1.0, 1e9) + dynamic_power_w(0.02, 171e-9, 1.0, 1e9), 2)
    6.12
    """
    return finite(activity * capacitance_f * voltage_v * voltage_v * frequency_hz, "power")


def dynamic_power_ratio(frequency_ratio: float, voltage_ratio: float) -> float:
    """How dynamic power changes with clock and voltage: (f2/f1) (V2/V1)^2.

    Returns
    -------
    float
        Power over power before; leakage and memory not included.

    Raises
    ------
    NotDetermined
        A ratio not above zero.

    Notes
    -----
    Weste and Harris 2011, 5.2. A measured saving beyond this needs another explanation.

    Examples
    --------
    >>> round(dynamic_power_ratio(1.0, 0.9), 6)
    0.81
    """
    volts = _above_zero(voltage_ratio, "ratio of voltages")
    return finite(_above_zero(frequency_ratio, "ratio of clocks") * volts * volts, "power ratio")


def fan_flow_ratio(speed_ratio: float) -> float:
    """Air flow changes as the fan speed (fan laws, ASHRAE Handbook).

    Examples
    --------
    >>> fan_flow_ratio(0.8)
    0.8
    """
    return _above_zero(speed_ratio, "ratio of fan speeds")


def fan_pressure_ratio(speed_ratio: float) -> float:
    """Pressure changes as the square of the fan speed.

    Examples
    --------
    >>> fan_pressure_ratio(2.0)
    4.0
    """
    speed = _above_zero(speed_ratio, "ratio of fan speeds")
    return finite(speed * speed, "pressure ratio")


def fan_power_ratio(speed_ratio: float) -> float:
    """Shaft power changes as the cube of the fan speed.

    Examples
    --------
    >>> fan_power_ratio(2.0)
    8.0
    """
    speed = _above_zero(speed_ratio, "ratio of fan speeds")
    return finite(speed * speed * speed, "power ratio")


def fan_sound_change_db(speed_ratio: float) -> float:
    """Change of the sound power level of one fan with its speed: 50 log10(N2/N1) dB.

    Notes
    -----
    Fan sound law (ASHRAE, AMCA literature). An estimate: it knows nothing of coil noise, resonance or the
    rest of the computer.

    Examples
    --------
    >>> round(fan_sound_change_db(0.8), 2)
    -4.85
    """
    return 50 * math.log10(_above_zero(speed_ratio, "ratio of fan speeds"))


def thermal_resistance_k_per_w(temperature_c: float, ambient_c: float, power_w: float) -> float:
    """Rise over ambient per watt, K/W.

    Raises
    ------
    NotDetermined
        Power not above zero.

    Notes
    -----
    Definition as JEDEC JESD51; with a card's sensor and board power it is a figure for comparison only.

    Examples
    --------
    >>> round(thermal_resistance_k_per_w(83.0, 25.0, 250.0), 6)
    0.232
    """
    return finite((temperature_c - ambient_c) / _above_zero(power_w, "power"), "thermal resistance")


def temperature_at_power_c(resistance_k_per_w: float, ambient_c: float, power_w: float) -> float:
    """Temperature expected at another power with unchanged air flow, degree Celsius.

    Examples
    --------
    >>> round(temperature_at_power_c(0.232, 25.0, 205.0), 2)
    72.56
    """
    return finite(ambient_c + resistance_k_per_w * power_w, "temperature")


def decibel_sum_db(levels_db: Numbers) -> float:
    """Level of several independent sources together: 10 log10 sum 10^(L/10).

    Parameters
    ----------
    levels_db : 1-D of float
        Levels with one reference and weighting, dB.

    Raises
    ------
    NotDetermined
        No level.

    Examples
    --------
    >>> round(decibel_sum_db([90.0, 90.0]), 2)
    93.01
    """
    levels = as_list(levels_db, noun="sound level")
    loudest = max(levels)
    return loudest + 10 * math.log10(math.fsum(10 ** ((level - loudest) / 10) for level in levels))


def decibel_without_background_db(total_db: float, background_db: float) -> float:
    """Level of a source alone, from the level with it and the level without it.

    Raises
    ------
    NotDetermined
        The background is not below the total.

    Examples
    --------
    >>> round(decibel_without_background_db(85.0, 80.0), 2)
    83.35
    """
    if not total_db > background_db:
        raise NotDetermined("the level with the source is not above the background: the source cannot be heard out")
    left = -math.expm1((background_db - total_db) / 10 * math.log(10))
    # levels so nearly equal that nothing is left of their difference
    if not left > 0:
        raise NotDetermined("the level with the source is not above the background: the source cannot be heard out")
    return finite(total_db + 10 * math.log10(left), "level")


def energy_kwh(power_w: float, hours: float) -> float:
    """Energy of a mean power over a time, kWh.

    Examples
    --------
    >>> energy_kwh(37.0, 8 * 365)
    108.04
    """
    if not hours >= 0:
        raise NotDetermined("a running time is not negative")
    return finite(power_w * hours / 1000, "energy")


def energy_j(power_w: float, seconds: float) -> float:
    """Energy of a mean power over a time, J.

    Examples
    --------
    >>> energy_j(200.0, 60.0)
    12000.0
    """
    if not seconds >= 0:
        raise NotDetermined("a running time is not negative")
    return finite(power_w * seconds, "energy")


def energy_kwh_per_year(power_w: float, hours_per_day: float, days_per_year: float = 365.0) -> float:
    """Energy in a year of so many hours a day, kWh.

    Raises
    ------
    NotDetermined
        More than 24 hours a day or 366 days a year, or negative.

    Examples
    --------
    >>> energy_kwh_per_year(37.0, 8.0)
    108.04
    """
    if not 0 <= hours_per_day <= 24 or not 0 <= days_per_year <= 366:
        raise NotDetermined("a day has 24 hours and a year at most 366 days")
    return energy_kwh(power_w, hours_per_day * days_per_year)


def running_cost(energy_kwh_: float, price_per_kwh: float) -> float:
    """Cost of energy at a tariff, in the money of the tariff.

    Examples
    --------
    >>> round(running_cost(108.04, 0.30), 3)
    32.412
    """
    if not price_per_kwh >= 0:
        raise NotDetermined("a price is not negative")
    return finite(energy_kwh_ * price_per_kwh, "cost")


def power_limit_w(stock_board_power_w: float, limit_pct: float) -> float:
    """A power limit given in percent of stock board power, in W (common practice, no published source).

    Examples
    --------
    >>> power_limit_w(250.0, 80.0)
    200.0
    """
    return finite(
        _above_zero(stock_board_power_w, "stock board power") * _above_zero(limit_pct, "power limit") / 100,
        "power limit",
    )


def _connector(name: str) -> str:
    if name not in CONNECTOR_W:
        raise NotDetermined(f"no rating is known for a connector called {name}; known are {', '.join(CONNECTOR_W)}")
    return name


def rated_supply_w(connectors: Sequence[str]) -> float:
    """Sustained power that slot and connectors are rated for together, W.

    Parameters
    ----------
    connectors : sequence of str
        Names from `CONNECTOR_W`, each as often as present.

    Raises
    ------
    NotDetermined
        An unknown name.

    Examples
    --------
    >>> rated_supply_w(["slot", "8-pin", "8-pin"])
    375.0
    """
    return sum((CONNECTOR_W[_connector(name)] for name in connectors), 0.0)


def connector_current_a(power_w: float, voltage_v: float = 12.0) -> float:
    """Current through a connector at a power, A.

    Examples
    --------
    >>> connector_current_a(600.0)
    50.0
    """
    return finite(power_w / _above_zero(voltage_v, "voltage"), "current")


def current_per_contact_a(connector: str, power_w: float, voltage_v: float = 12.0) -> float:
    """Current per supply contact if all share alike, A; they need not.

    Raises
    ------
    NotDetermined
        An unknown connector, or one without contacts listed.

    Examples
    --------
    >>> round(current_per_contact_a("16-pin", 600.0), 2)
    8.33
    """
    if _connector(connector) not in SUPPLY_CONTACTS:
        raise NotDetermined(f"the supply contacts of a {connector} are not listed")
    return connector_current_a(power_w, voltage_v) / SUPPLY_CONTACTS[connector]
