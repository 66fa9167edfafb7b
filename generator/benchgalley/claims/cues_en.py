"""English: words that point to a quantity, a relation or a setpoint, for ranking what a number may be bound to.

Data only. Used by `suggest`; nothing is judged by it.
"""

QUANTITIES: dict[str, str] = {
    "score": "score scored scores points result made reached",
    "board-power": "board power drew draws drawing watts watt consumption card's",
    "wall-power": "wall plug socket mains computer outlet whole meter",
    "core-clock": "clock clocks core megahertz frequency clocked held",
    "memory-clock": "memory clock clocks",
    "core-voltage": "voltage core millivolts volts",
    "core-temperature": "core temperature degrees degree cooler hotter warm heat ran settled stood",
    "hotspot-temperature": "hotspot hottest spot temperature degrees",
    "memory-temperature": "memory temperature degrees",
    "ambient-temperature": "room ambient air temperature inlet degrees",
    "fan-speed": "fan fans turned turn turning spin spun revolutions rpm slower",
    "sound-level": "sound noise level quieter louder decibels meter",
    "run-time": "run took time lasted long",
    "score-per-watt": "per watt efficiency efficient each points/w",
    "score-per-wall-watt": "per watt wall efficiency",
    "run-energy": "energy run joules",
    "energy-per-score": "energy per point joules",
    "temperature-rise": "rise above over room ambient",
    "hotspot-rise": "hotspot rise above over room ambient",
    "thermal-resistance": "thermal resistance cooler kelvin per watt",
    "running-energy": "year energy yearly kilowatt",
    "running-cost": "year cost costs yearly tariff bill",
    "fan-sound-change": "fan law estimate estimated sound noise",
    "matching-power-limit": "matching matched limit back level back meets returns equals",
    "matching-power-limit-watts": "matching matched limit back watts",
    "score-at-matched-power": "matched power score",
    "best-score-per-watt": "best per watt efficiency peak",
    "best-score-per-watt-setting": "best per watt limit setting peak",
    "deepest-completed": "deepest completed offset lowest held",
    "first-failed": "first failed failure fails offset crashed",
    "headroom": "headroom margin room spare short backed between",
    "failures": "failures failed crashes soak",
    "failed-runs": "failed failures crashed crashes",
    "completed-runs": "completed came through finished",
    "runs": "runs all made in",
    "failure-share": "share failed failures runs",
    "failure-rate": "rate hour failures",
    "hours": "soak hours ran",
    "between-samples": "samples between spread",
    "manages": "samples manage share",
}
"""Quantity key → words near a number that speak for it."""

RELATIONS: dict[str, str] = {
    "of-baseline": "of keeps kept keep retains retained left still",
    "saved": "less lower saved saves saving shed fewer cooler quieter slower below fell down off drop under",
    "saved-percent": "less lower saved saves saving lost loses costs cost fewer gives below takes took fell loss drop",
    "change": "more higher gained gains rose rises faster up above change changed difference",
    "change-percent": "more higher gained gains rose rises faster up above change changed gain",
    "ratio": "times factor ratio twice",
    "spread": "spread repeatability deviation scatter repeat standard",
    "runs": "runs repeats from over in",
    "at-most": "most bound upper",
    "at-least": "least bound lower",
    "equivalent": "within same margin equal",
    "between-samples": "between samples",
    "within-samples": "within samples",
    "next-sample-at-least": "next least",
    "next-sample-at-most": "next most",
}
"""Relation → words near a number that speak for it."""

RARE_RELATIONS = frozenset(
    {"ratio", "spread", "at-most", "at-least", "equivalent", "within-samples", "between-samples"}
)
"""Not offered first without a word that speaks for them."""
