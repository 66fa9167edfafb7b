"""The formulae of the methods page, as MathML that browsers set without a script."""

from dataclasses import dataclass
from functools import lru_cache

from markupsafe import Markup


@dataclass(frozen=True, kw_only=True, slots=True)
class Formula:
    """One formula with the words around it."""

    title: str
    latex: str
    where: str
    source: str


FORMULAE: tuple[Formula, ...] = (
    Formula(
        title="Mean of a setpoint",
        latex=r"\bar{x} = \frac{1}{n} \sum_{i=1}^{n} x_i",
        where="x: one completed run that is not excluded; n: their number.",
        source="NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.1",
    ),
    Formula(
        title="Repeatability standard deviation",
        latex=r"s = \sqrt{\frac{\sum_{i=1}^{n} (x_i - \bar{x})^2}{n - 1}}",
        where="The divisor is n − 1. One run has no repeatability, and the page says so.",
        source="JCGM 100:2008 (GUM), 4.2.2; JCGM 200:2012 (VIM), 2.21",
    ),
    Formula(
        title="Combined standard uncertainty",
        latex=r"u^2(y) = \sum_{i} \left( \frac{\partial f}{\partial x_i} \right)^2 u^2(x_i)",
        where="The inputs are the means with s/√n, and the instrument's gain, offset and resolution. "
        "Components shared by both sides of a difference or ratio are combined with their signs first: "
        "the gain error of one meter cancels in a ratio, its offset in a difference.",
        source="JCGM 100:2008 (GUM), 5.1.2 and 5.2",
    ),
    Formula(
        title="Limits stated for an instrument",
        latex=r"u = \frac{a}{\sqrt{3}}",
        where="a: half-width of the stated limits, taken as a rectangle. Resolution q: u = q/√12.",
        source="JCGM 100:2008 (GUM), 4.3.7",
    ),
    Formula(
        title="Effective degrees of freedom",
        latex=r"\nu_{\mathrm{eff}} = \frac{u^4(y)}{\sum_{i} u_i^4(y) / \nu_i}",
        where="u with index i: contribution of input i; ν with index i: its degrees of freedom.",
        source="JCGM 100:2008 (GUM), G.4.1 (Welch-Satterthwaite)",
    ),
    Formula(
        title="Interval of a mean or a difference",
        latex=r"y \pm t_{p}(\nu_{\mathrm{eff}}) \, u(y)",
        where="t: quantile of Student's distribution at the site's confidence, two-sided.",
        source="JCGM 100:2008 (GUM), 6.3 and G.3",
    ),
    Formula(
        title="Interval of a ratio",
        latex=r"\left( \bar{x} - r \, \bar{y} \right)^2 \le t^2 \left( u_x^2 - 2 r \, u_{xy} + r^2 u_y^2 \right)",
        where="Every ratio r that satisfies it belongs to the interval, which may be unbounded: then the page says so.",
        source="E. C. Fieller, J. R. Stat. Soc. B 16 (1954) 175-185",
    ),
    Formula(
        title="Equal within a margin",
        latex=r"-m < d - t_{\nu} u(d) \quad \mathrm{and} \quad d + t_{\nu} u(d) < m",
        where="m: margin declared in the write-up; d: difference from the baseline; t one-sided. "
        "Equality is shown only when both hold; it is refuted when the interval lies wholly outside the margin.",
        source="D. J. Schuirmann, J. Pharmacokinet. Biopharm. 15 (1987) 657-680",
    ),
    Formula(
        title="Upper bound of a failure rate",
        latex=r"\lambda_{\mathrm{max}} = \frac{\chi^2_{p}(2k + 2)}{2T}",
        where="k failures in T hours of soak. With no failure it is about 3 divided by the hours, at 95 %.",
        source="F. Garwood, Biometrika 28 (1936) 437-442",
    ),
    Formula(
        title="Score for each watt",
        latex=r"e = \frac{\bar{S}}{\bar{P}}",
        where="Mean score over mean board power of the same runs: a ratio of means, not a mean of ratios.",
        source="Common practice, no published source",
    ),
)  # fmt: skip


@lru_cache(maxsize=1)
def as_mathml() -> tuple[tuple[Formula, Markup], ...]:
    """Every formula with its MathML."""
    from latex2mathml.converter import convert

    # The formulae above are the only input: no text of a write-up reaches the converter.
    return tuple((f, Markup(convert(f.latex, display="block"))) for f in FORMULAE)
