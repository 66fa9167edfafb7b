"""The numbers of a write-up as a careful tester would script them by hand with pandas, scipy and PyYAML.

Every figure a page of the site shows for a setpoint: mean, spread, interval with the instrument's limits, bounds, and
how it compares with the baseline; and for a card, what its samples have in common. `site_of_many_write_ups` holds
them against the site's own. The pages that show them are made in `page_by_hand`.
"""

from pathlib import Path

import numpy as np
import pandas as pd
import yaml
from scipy import stats

QUANTITIES = {
    "score": (("score",), lambda score: score),
    "board-power": (("board_power_w",), lambda watts: watts),
    "core-clock": (("core_clock_mhz",), lambda clock: clock),
    "core-temperature": (("core_temp_c",), lambda core: core),
    "ambient-temperature": (("ambient_c",), lambda room: room),
    "run-time": (("duration_s",), lambda seconds: seconds),
    "score-per-watt": (("score", "board_power_w"), lambda score, watts: score / watts),
    "run-energy": (("board_power_w", "duration_s"), lambda watts, seconds: watts * seconds / 1000),
    "energy-per-score": (
        ("board_power_w", "duration_s", "score"), lambda watts, seconds, score: watts * seconds / score,
    ),
    "temperature-rise": (("core_temp_c", "ambient_c"), lambda core, room: core - room),
    "thermal-resistance": (
        ("core_temp_c", "ambient_c", "board_power_w"), lambda core, room, watts: (core - room) / watts,
    ),
}  # fmt: skip
"""Name → columns it is worked out from, and how."""
SWEPT = ("score", "board-power", "score-per-watt")
"""What is given for every power limit of the sweep."""
RELATIONS = ("change", "saved", "ratio", "of-baseline", "change-percent", "saved-percent")
"""How a setpoint compares with the baseline."""
FILE_STEP = {"duration_s": 0.1}
"""Resolution of columns that no instrument measured; it counts where the readings never change."""


def read(folder: Path) -> tuple[dict, str, pd.DataFrame]:
    """Front matter, text, completed runs in the order they were made."""
    front, text = (folder / "write-up.md").read_text("utf-8").split("---\n", 2)[1:]
    runs = pd.read_csv(folder / "trials.csv", parse_dates=["started"]).sort_values("started")
    return yaml.safe_load(front), text, runs[runs["outcome"] == "completed"]


def instruments(content: Path, front: dict) -> dict[str, dict]:
    """Column → its instrument, with its name."""
    bench = yaml.safe_load((content / "benches" / f"{front['bench']}.yaml").read_text("utf-8"))
    return {
        column: {"name": name, **instrument}
        for name, instrument in bench["instruments"].items() for column in instrument["columns"]
    }  # fmt: skip


def groups(front: dict, runs: pd.DataFrame) -> dict[str, pd.DataFrame]:
    """Setpoint → its runs."""
    found = {}
    for name, setting in front["setpoints"].items():
        limit, offset = setting.get("power_limit_pct", 100), setting.get("voltage_offset_mv", 0)
        found[name] = runs[(runs["power_limit_pct"] == limit) & (runs["voltage_offset_mv"] == offset)]
    return found


class Mean:
    """A quantity over some runs, with its sources of uncertainty: name → (signed contribution, degrees of freedom)."""

    def __init__(self, key: str, name: str, runs: pd.DataFrame, used: dict[str, dict]) -> None:
        columns, formula = QUANTITIES[key]
        means = runs[list(columns)].mean()
        self.n = len(runs)
        self.value = float(formula(*means))
        slopes = {}
        for place, column in enumerate(columns):
            step = np.zeros(len(columns), dtype=complex)
            step[place] = 1e-30j
            slopes[column] = float(np.imag(formula(*(means.to_numpy() + step))) / 1e-30)
        self.deviations = sum(slopes[c] * (runs[c] - means[c]) for c in columns)
        self.sd = float(np.sqrt((self.deviations**2).sum() / (self.n - 1)))
        self.minutes = (runs["started"] - pd.Timestamp("2026-01-01", tz="UTC")).dt.total_seconds() / 60
        self.sources = {f"runs at {name}": (self.sd / self.n**0.5, self.n - 1)}
        for column in columns:
            tool, slope = used.get(column, {}), slopes[column]
            if "gain_error_pct" in tool:
                gain = slope * means[column] * tool["gain_error_pct"] / 100 / 3**0.5
                self.sources[f"gain of {column}"] = (gain, np.inf)
            if "offset_error" in tool:
                self.sources[f"offset of {column}"] = (slope * tool["offset_error"] / 3**0.5, np.inf)
            step = tool.get("resolution") or (FILE_STEP.get(column) if self.sd == 0 else None)
            if step:
                self.sources[f"resolution of {column} at {name}"] = (slope * step / 12**0.5, np.inf)

    def from_repeats(self) -> tuple[float, float]:
        """Interval from repeats alone."""
        if not self.sd:
            return np.nan, np.nan
        return stats.t.interval(0.95, self.n - 1, loc=self.value, scale=self.sd / self.n**0.5)


def pieces(sources: dict) -> list[tuple[list[str], float, float]]:
    """Sources of like degrees of freedom put together (Welch-Satterthwaite, rounded down): names, u, nu."""
    found = []
    nothing = 1e-12 * combined(sources)  # a gain that cancels leaves its rounding
    for nu, part, name in sorted((nu, part, name) for name, (part, nu) in sources.items() if abs(part) > nothing):
        fewest = found[-1][0][1] if found else np.nan
        if nu == fewest or (fewest >= 2 and nu <= 2 * fewest):
            found[-1].append((part, nu, name))
        else:
            found.append([(part, nu, name)])
    put_together = []
    for piece in found:
        u = sum(part**2 for part, _, _ in piece) ** 0.5
        below = sum(part**4 / nu for part, nu, _ in piece)
        put_together.append(([name for *_, name in piece], u, np.floor(u**4 / below * (1 + 1e-9)) if below else np.inf))
    return put_together


def half_width(sources: dict, probability: float) -> float:
    """Distance of a one-sided bound: every piece with its own Student t (Banerjee 1960)."""
    return sum((stats.t.ppf(probability, nu) * u) ** 2 for _, u, nu in pieces(sources)) ** 0.5


def combined(sources: dict) -> float:
    """Standard uncertainty."""
    return sum(part**2 for part, _ in sources.values()) ** 0.5


def drift(at: Mean, base: Mean) -> tuple[float, int]:
    """What the baseline's own slope in time may have added to a difference, with its degrees of freedom."""
    if base.sd == 0 or not base.minutes.min() < at.minutes.mean() < base.minutes.max():
        return 0.0, base.n - 2
    line = stats.linregress(base.minutes, base.deviations)
    apart = at.minutes.mean() - base.minutes.mean()
    return apart * (line.slope**2 / 3 + line.stderr**2) ** 0.5, base.n - 2


def ratio_interval(at: Mean, base: Mean, drifted: tuple) -> tuple[float, float, float]:
    """Standard uncertainty and Fieller's limits of the ratio, each source with the t of its piece."""
    theta = at.value / base.value
    both = {**at.sources, **base.sources, "drift": drifted}
    of_at = {name: part for name, (part, _) in {**at.sources, "drift": drifted}.items()}
    of_base = {name: part for name, (part, _) in base.sources.items()}
    about = {
        name: ((of_at.get(name, 0.0) - theta * of_base.get(name, 0.0)) / base.value, nu)
        for name, (_, nu) in both.items()
    }
    t = {name: stats.t.ppf(0.975, nu) for names, _, nu in pieces(about) for name in names}
    a = [t.get(name, 0.0) * of_at.get(name, 0.0) for name in both]
    b = [t.get(name, 0.0) * of_base.get(name, 0.0) for name in both]
    low, high = sorted(
        np.roots([
            base.value**2 - np.dot(b, b), -2 * (at.value * base.value - np.dot(a, b)), at.value**2 - np.dot(a, a),
        ]).real
    )  # fmt: skip
    return combined(about), low, high


def means_of(front: dict, runs: pd.DataFrame, used: dict[str, dict]) -> dict[tuple[str, str], Mean]:
    """(setpoint, quantity) → its mean; `used`: column → its instrument."""
    return {
        (name, key): Mean(key, name, some, used) for name, some in groups(front, runs).items() for key in QUANTITIES
    }


class _Rows:
    """Numbers one after the other."""

    def __init__(self) -> None:
        self._rows: list[tuple] = []

    def __call__(self, address, value, u=np.nan, low=np.nan, high=np.nan, inner=(np.nan, np.nan)) -> None:
        self._rows.append((address, value, u, low, high, *inner))

    def table(self) -> pd.DataFrame:
        """`inner`: the interval from repeats alone."""
        columns = ["address", "value", "u", "low", "high", "inner_low", "inner_high"]
        return pd.DataFrame(self._rows, columns=columns)


def numbers(front: dict, runs: pd.DataFrame, used: dict[str, dict], means: dict[tuple[str, str], Mean]) -> pd.DataFrame:
    """One row a number: address, value, standard uncertainty, low and high end."""
    add = _Rows()
    at = groups(front, runs)
    for (name, key), mean in means.items():
        u, half, bound = combined(mean.sources), half_width(mean.sources, 0.975), half_width(mean.sources, 0.95)
        add(f"{name}/{key}", mean.value, u, mean.value - half, mean.value + half, mean.from_repeats())
        spread = [mean.sd * ((mean.n - 1) / stats.chi2.ppf(p, mean.n - 1)) ** 0.5 for p in (0.975, 0.025)]
        add(f"{name}/{key}/spread", mean.sd, np.nan, *(spread if mean.sd else ()))
        add(f"{name}/{key}/runs", mean.n)
        add(f"{name}/{key}/at-most", mean.value + bound, u, high=mean.value + bound)
        add(f"{name}/{key}/at-least", mean.value - bound, u, low=mean.value - bound)
        if name != front["baseline"]:
            _compared(add, f"{name}/{key}", mean, means[front["baseline"], key])
    for name in at:
        _failures(add, name, len(at[name]))
    swept = runs[runs["voltage_offset_mv"] == 0]
    for limit, some in swept.groupby("power_limit_pct"):
        for key in SWEPT:
            mean = Mean(key, f"{limit}", some, used)
            u, half = combined(mean.sources), half_width(mean.sources, 0.975)
            inner = mean.from_repeats()
            add(f"power-sweep/{key}-at-{limit}", mean.value, u, mean.value - half, mean.value + half, inner)
    _failures(add, "power-sweep", len(swept))
    return add.table()


def _compared(add, address: str, at: Mean, base: Mean) -> None:
    drifted = drift(at, base)
    change = at.value - base.value
    sources = {"drift": drifted}
    for name in {**at.sources, **base.sources}:
        (a, nu), (b, same) = at.sources.get(name, (0.0, None)), base.sources.get(name, (0.0, None))
        sources[name] = (a - b, nu if nu is not None else same)
    u, half = combined(sources), half_width(sources, 0.975)
    add(f"{address}/change", change, u, change - half, change + half)
    add(f"{address}/saved", -change, u, -change - half, -change + half)
    theta = at.value / base.value
    u, low, high = ratio_interval(at, base, drifted)
    add(f"{address}/ratio", theta, u, low, high)
    add(f"{address}/of-baseline", 100 * theta, 100 * u, 100 * low, 100 * high)
    add(f"{address}/change-percent", 100 * (theta - 1), 100 * u, 100 * (low - 1), 100 * (high - 1))
    add(f"{address}/saved-percent", 100 * (1 - theta), 100 * u, 100 * (1 - high), 100 * (1 - low))


def _failures(add, name: str, count: int) -> None:
    """Every run of these sites completed; the script counts and gives the exact binomial interval all the same."""
    add(f"{name}/runs", count)
    add(f"{name}/completed-runs", count)
    add(f"{name}/failed-runs", 0)
    both = stats.binomtest(0, count).proportion_ci(0.95, "exact")
    add(f"{name}/failure-share", 0.0, np.nan, 100 * both.low, 100 * both.high)
    most = 100 * stats.binomtest(0, count, alternative="less").proportion_ci(0.95, "exact").high
    add(f"{name}/failure-share/at-most", most, np.nan, high=most)


def card_numbers(samples: list[tuple[dict[tuple[str, str], Mean], pd.DataFrame]]) -> pd.DataFrame:
    """What the samples of a card have in common; of each sample its means and its table of numbers."""
    add, n = _Rows(), len(samples)
    k = stats.nct.ppf(0.95, n - 1, stats.norm.ppf(0.95) * n**0.5) / n**0.5  # one-sided tolerance: 95 % of all cards
    for name, key in samples[0][0]:
        each = [means[name, key] for means, _ in samples]
        values = np.array([mean.value for mean in each])
        _over_samples(add, f"{name}/{key}", values)
        count, nu = each[0].n, sum(mean.n - 1 for mean in each)
        within = sum((mean.deviations**2).sum() for mean in each) / nu
        between = max(0.0, values.var(ddof=1) - within / count)
        add(f"{name}/{key}/between-samples", between**0.5)
        ends = [(within * nu / stats.chi2.ppf(p, nu)) ** 0.5 for p in (0.975, 0.025)]
        add(f"{name}/{key}/within-samples", within**0.5, np.nan, *(ends if within else ()))
        centre, sd = values.mean(), values.std(ddof=1)
        error = sd * (1 + 1 / n) ** 0.5
        reach = stats.t.ppf(0.95, n - 1) * error
        if sd:
            add(f"{name}/{key}/next-sample-at-least", centre - reach, error, low=centre - reach)
            add(f"{name}/{key}/next-sample-at-most", centre + reach, error, high=centre + reach)
            add(f"{name}/{key}/tolerance-at-least", centre - k * sd, low=centre - k * sd)
            add(f"{name}/{key}/tolerance-at-most", centre + k * sd, high=centre + k * sd)
    compared = pd.concat([table.set_index("address")["value"] for _, table in samples], axis=1)
    for address, values in compared.iterrows():
        if address.rpartition("/")[2] in RELATIONS:
            _over_samples(add, address, values.to_numpy())
    return add.table()


ROUNDING = 1e-12
"""Differences of numbers of the size of these are not computed more closely."""


def _over_samples(add, address: str, values: np.ndarray) -> None:
    error = values.std(ddof=1) / len(values) ** 0.5
    if error > ROUNDING:  # two samples that differ by rounding alone have no spread
        reach = stats.t.ppf(0.975, len(values) - 1) * error
        add(address, values.mean(), error, values.mean() - reach, values.mean() + reach)
