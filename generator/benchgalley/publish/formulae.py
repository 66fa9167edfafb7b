"""The formulae behind the numbers, as MathML that browsers set without a script, and when each was used."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

from markupsafe import Markup

from benchgalley.records.results import Number


@dataclass(frozen=True, kw_only=True, slots=True)
class Formula:
    """One formula with the words around it."""

    title: str
    latex: str
    where: str
    source: str
    used: Callable[[Number], bool]
    """Whether a number was computed with it."""
    assumes: tuple[str, ...] = ()
    """Keys of the assumptions it rests on: see `assumptions`."""


def _method(number: Number) -> str:
    """How the interval was made; the adjusted one stands in the interval from repeats."""
    return number.interval.method if number.interval is not None else ""


def _by_method(words: str) -> Callable[[Number], bool]:
    return lambda number: words in _method(number)


def _by_component(start: str) -> Callable[[Number], bool]:
    return lambda n: any(c.name.startswith(start) and c.standard_uncertainty > 0 for c in n.components)


def _by_quantity(*keys: str) -> Callable[[Number], bool]:
    return lambda number: number.address.quantity in keys


def _averaged(number: Number) -> bool:
    return any(c.evaluation == "A" for c in number.components) or number.formula.startswith("Σx / n")


FORMULAE: tuple[Formula, ...] = (
    Formula(
        title="Mean of a setpoint",
        latex=r"\bar{x} = \frac{1}{n} \sum_{i=1}^{n} x_i",
        where="x: one completed run that is not excluded; n: their number.",
        source="NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.1",
        used=_averaged,
        assumes=("logs",),
    ),
    Formula(
        title="Repeatability standard deviation",
        latex=r"s = \sqrt{\frac{\sum_{i=1}^{n} (x_i - \bar{x})^2}{n - 1}}",
        where="The divisor is n − 1. One run has no repeatability, and the page says so.",
        source="JCGM 100:2008 (GUM), 4.2.2; JCGM 200:2012 (VIM), 2.21",
        used=lambda n: n.address.relation == "spread" or _by_component("repeatability")(n),
        assumes=("order",),
    ),
    Formula(
        title="Limits of a standard deviation",
        latex=r"\frac{(n - 1) s^2}{\chi^2_{1 - \alpha/2}} \le \sigma^2 \le \frac{(n - 1) s^2}{\chi^2_{\alpha/2}}",
        where="χ²: quantile with n − 1 degrees of freedom; 1 − α: confidence.",
        source="NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.8",
        used=_by_method("chi-square"),
        assumes=("normal",),
    ),
    Formula(
        title="Combined standard uncertainty",
        latex=r"u^2(y) = \sum_{i} \left( \frac{\partial f}{\partial x_i} \right)^2 u^2(x_i)",
        where="The inputs are the means with s/√n, and the instrument's gain, offset and resolution. "
        "Components shared by both sides of a difference or ratio are combined with their signs first: "
        "the gain error of one meter cancels in a ratio, its offset in a difference.",
        source="JCGM 100:2008 (GUM), 5.1.2 and 5.2",
        used=lambda n: sum(c.standard_uncertainty > 0 for c in n.components) > 1,
    ),
    Formula(
        title="Limits stated for an instrument",
        latex=r"u = \frac{a}{\sqrt{3}}",
        where="a: half-width of the stated limits, taken as a rectangle. Resolution q: u = q/√12.",
        source="JCGM 100:2008 (GUM), 4.3.7",
        used=lambda n: any(c.evaluation == "B" and c.standard_uncertainty > 0 for c in n.components),
        assumes=("instruments",),
    ),
    Formula(
        title="Drift since the baseline",
        latex=r"u^2 = \frac{(b D)^2}{3} + \left( u(b) D \right)^2",
        where="b: slope of a straight line through the baseline's runs; D: time between the mean of the baseline's "
        "runs and the mean of the setpoint's.",
        source="Slope: NIST/SEMATECH e-Handbook of Statistical Methods, 4.1.4.1; rectangle: JCGM 100:2008 (GUM), 4.3.7",
        used=_by_component("drift"),
        assumes=("drift",),
    ),
    Formula(
        title="Effective degrees of freedom",
        latex=r"\nu_{\mathrm{eff}} = \frac{u^4(y)}{\sum_{i} u_i^4(y) / \nu_i}",
        where="u with index i: contribution of input i; ν with index i: its degrees of freedom. The result is rounded "
        "down to a whole number. Used where those of the contributions are equal or, from two up, at most twofold "
        "apart; the interval by parts serves elsewhere.",
        source="JCGM 100:2008 (GUM), G.4.1 (Welch-Satterthwaite)",
        used=lambda n: "Welch-Satterthwaite" in _method(n) or "Banerjee" in _method(n),
    ),
    Formula(
        title="Interval of a mean or a difference",
        latex=r"y \pm t_{p}(\nu_{\mathrm{eff}}) \, u(y)",
        where="t: quantile of Student's distribution at the site's confidence, two-sided; for a bound, one-sided.",
        source="JCGM 100:2008 (GUM), 6.3 and G.3; difference: B. L. Welch, Biometrika 34 (1947) 28-35",
        used=lambda n: "Student t" in (m := _method(n)) and "over sample means" not in m and "Banerjee" not in m,
        assumes=("normal", "spreads"),
    ),
    Formula(
        title="Interval by parts",
        latex=r"y \pm \sqrt{\sum_{j} \left( t_{p}(\nu_j) \, u_j(y) \right)^2}",
        where="j: contributions of like degrees of freedom, combined; what is known exactly has the normal quantile. "
        "Used where degrees of freedom differ more than twofold, or two runs stand beside more: one effective number "
        "would be too large whenever the few runs happen to lie close together. So the interval of a difference of two "
        "means holds at least its confidence, whatever the spreads. The two one-sided tests use the same half-width.",
        source="S. K. Banerjee, Sankhya 22 (1960) 357-358",
        used=_by_method("Banerjee"),
        assumes=("normal",),
    ),
    Formula(
        title="Interval of a ratio",
        latex=r"\left( \bar{x} - r \, \bar{y} \right)^2 \le t^2 \left( u_x^2 - 2 r \, u_{xy} + r^2 u_y^2 \right)",
        where="Every ratio r that satisfies it belongs to the interval, which may be unbounded: then the page says so. "
        "Where degrees of freedom differ more than twofold, or two runs stand beside more, each contribution to the u "
        "has its own t.",
        source="E. C. Fieller, J. R. Stat. Soc. B 16 (1954) 175-185",
        used=_by_method("Fieller"),
        assumes=("normal", "denominator"),
    ),
    Formula(
        title="Several settings against one baseline",
        latex=r"\left( \bar{x}_j - \bar{x}_0 \right) \pm d \, s_p \sqrt{\frac{1}{n_j} + \frac{1}{n_0}}",
        where="d: Dunnett's factor for so many settings, so that all intervals hold together; with it words such as "
        "“cooler” are judged. s with index p: spread pooled over the settings. Where spreads differ more than "
        "threefold, each keeps its own and the confidence is shared out (Bonferroni).",
        source="C. W. Dunnett, J. Am. Stat. Assoc. 50 (1955) 1096-1121",
        used=lambda n: bool(n.adjusted),
        assumes=("normal", "spreads"),
    ),
    Formula(
        title="Equal within a margin",
        latex=r"-m < d - t_{\nu} u(d) \quad \mathrm{and} \quad d + t_{\nu} u(d) < m",
        where="m: margin declared in the write-up; d: difference from the baseline; t one-sided. "
        "Equality is shown only when both hold; it is refuted when the interval lies wholly outside the margin.",
        source="D. J. Schuirmann, J. Pharmacokinet. Biopharm. 15 (1987) 657-680",
        used=lambda n: n.address.relation == "equivalent",
        assumes=("normal", "margins"),
    ),
    Formula(
        title="Power-scaling curve and matching power limit",
        latex=r"x_0 = \min \left\{ x : f(x) \ge \bar{y}_0 - m \right\}",
        where="f: monotone curve through the means of the sweep (isotonic regression, then cubic pieces that stay "
        "monotone); y: mean score of the baseline; m: declared margin. Never beyond the limits that were run. "
        "Interval: every limit at which the two scores cannot be told apart.",
        source="F. N. Fritsch and R. E. Carlson, SIAM J. Numer. Anal. 17 (1980) 238-246; inversion of a test as "
        "E. C. Fieller, J. R. Stat. Soc. B 16 (1954) 175-185",
        used=lambda n: "monotone curve" in _method(n) or "matching-power" in n.address.quantity,
        assumes=("monotone", "normal"),
    ),
    Formula(
        title="Best of several, and who may be as good",
        latex=r"\bar{x}_j > \max_{i \ne j} \bar{x}_i - d \, s_p \sqrt{\frac{1}{n_j} + \frac{1}{n_i}}",
        where="A setting stays among the best while it cannot be told from the best of the others.",
        source="J. C. Hsu, Ann. Stat. 9 (1981) 1026-1034",
        used=lambda n: n.address.quantity.startswith("best-"),
        assumes=("normal", "spreads"),
    ),
    Formula(
        title="Upper bound of a failure rate",
        latex=r"\lambda_{\mathrm{max}} = \frac{\chi^2_{p}(2k + 2)}{2T}",
        where="k failures in T hours of soak. With no failure it is about 3 divided by the hours, at 95 %.",
        source="F. Garwood, Biometrika 28 (1936) 437-442",
        used=_by_method("Poisson"),
        assumes=("rate",),
    ),
    Formula(
        title="Share of runs or samples that fail",
        latex=r"\sum_{j=0}^{k} \binom{n}{j} p^j (1 - p)^{n - j} = \frac{\alpha}{2}",
        where="Solved for the upper limit p after k failures in n; the lower limit alike.",
        source="C. J. Clopper and E. S. Pearson, Biometrika 26 (1934) 404-413",
        used=_by_method("binomial"),
        assumes=("rate",),
    ),
    Formula(
        title="Mean over samples",
        latex=r"\bar{m} \pm t_{p}(k - 1) \, \frac{s_m}{\sqrt{k}}",
        where="m: mean of one sample; k: number of samples; s with index m: spread of their means.",
        source="ISO 5725-2, 7.4.5",
        used=_by_method("over sample means"),
        assumes=("samples",),
    ),
    Formula(
        title="Prediction for the next sample",
        latex=r"\bar{m} \pm t_{p}(k - 1) \, s_m \sqrt{1 + \frac{1}{k}}",
        where="One-sided. A tolerance bound replaces the factor by k from the non-central t distribution.",
        source="NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.6; ISO 16269-6",
        used=lambda n: n.address.relation.startswith(("next-sample", "tolerance")),
        assumes=("samples",),
    ),
    Formula(
        title="Score for each watt",
        latex=r"e = \frac{\bar{S}}{\bar{P}}",
        where="Mean score over mean power of the same runs: a ratio of means, not a mean of ratios.",
        source="T. Hoefler and R. Belli, SC '15, rule 3",
        used=_by_quantity("score-per-watt", "score-per-wall-watt", "best-score-per-watt"),
    ),
    Formula(
        title="Energy of a run",
        latex=r"E = \bar{P} \, \bar{t}",
        where="Mean board power times mean run time; divided by the mean score it is the energy for each point.",
        source="Energy is mean power times time (plain physics)",
        used=_by_quantity("run-energy", "energy-per-score"),
    ),
    Formula(
        title="Rise over ambient and thermal resistance",
        latex=r"\Delta T = \bar{T} - \bar{T}_{\mathrm{a}} \quad R = \frac{\Delta T}{\bar{P}}",
        where="Board power stands for the power of the chip.",
        source="JEDEC JESD51",
        used=_by_quantity("temperature-rise", "hotspot-rise", "thermal-resistance"),
    ),
    Formula(
        title="Energy and cost of a year",
        latex=r"E = \bar{P} \, h \quad K = E \, k",
        where="h: hours a year at this load; k: tariff for each kW h; both as stated in the site's settings.",
        source="Plain arithmetic",
        used=_by_quantity("running-energy", "running-cost"),
    ),
    Formula(
        title="Change of sound with fan speed",
        latex=r"\Delta L = 50 \log_{10} \frac{n}{n_0}",
        where="An estimate for one fan at one place; measured levels stand beside it where there are any.",
        source="Fan sound law (ASHRAE and AMCA literature)",
        used=_by_quantity("fan-sound-change"),
    ),
)  # fmt: skip


@lru_cache(maxsize=len(FORMULAE))
def as_mathml(latex: str) -> Markup:
    """One of the formulae above: no text of a write-up reaches the converter."""
    from latex2mathml.converter import convert

    return Markup(convert(latex, display="block"))
