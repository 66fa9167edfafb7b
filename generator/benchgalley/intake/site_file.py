"""site.yaml: what holds for the whole site."""

import re

from ..records.site import Running, SiteSettings
from ..records.units import currency_unit
from ..records.write_up import Text
from .fields import Fields
from .problem_list import clip
from .prose import inline_text

DEFAULT_CONFIDENCE_PCT = 95.0
DEFAULT_HEDGE_SHARE_PCT = 5.0
_LANGUAGE = re.compile(r"[a-z]{2,3}(?:-[A-Za-z0-9]{2,8})*")
_LICENCE = re.compile(r"[A-Za-z0-9.+-]+(?: (?:AND|OR|WITH) [A-Za-z0-9.+-]+)*")
_ADDRESS = re.compile(r"https?://[a-z0-9.-]+(?::[0-9]+)?(?:/[\w.~%-]+)*/?")


def read_settings(fields: Fields) -> SiteSettings | None:
    """The site's settings; None with problems."""
    before = fields.problems.errors
    title = _text(fields, "title", required=True)
    summary = _text(fields, "summary", required=True)
    author, contact = _author(fields.inner("author"))
    text_licence, data_licence = _licences(fields.inner("licences"))
    settings = SiteSettings(
        title=title,
        summary=summary,
        address=_address(fields),
        author=author,
        contact=contact,
        text_licence=text_licence,
        data_licence=data_licence,
        language=_matching(fields, "language", _LANGUAGE, "a language tag", "en"),
        confidence_pct=_between(fields, "confidence_pct", 50.0, 99.99, DEFAULT_CONFIDENCE_PCT),
        hedge_share_pct=_between(fields, "hedge_share_pct", 0.0, 50.0, DEFAULT_HEDGE_SHARE_PCT),
        running=_running(fields.inner("running")),
        notice=fields.text("notice"),
    )
    fields.finish()
    return None if fields.problems.errors > before else settings


def _text(fields: Fields, key: str, *, required: bool = False) -> Text:
    placed = fields.placed_text(key, required=required)
    if placed is None:
        return Text(place=key, text="", positions=(), file=fields.source.file)
    return inline_text(key, *placed, fields.source, fields.problems)


def _matching(fields: Fields, key: str, shape: re.Pattern[str], what: str, default: str = "") -> str:
    text = fields.text(key) or default
    if text and not shape.fullmatch(text):
        fields.wrong(key, "wrong-type", f"`{fields.path(key)}` is `{clip(text)}`; {what} was expected")
    return text


def _between(fields: Fields, key: str, low: float, high: float, default: float) -> float:
    value = fields.number(key, minimum=low, maximum=high)
    return default if value is None else value


def _address(fields: Fields) -> str:
    address = _matching(fields, "address", _ADDRESS, "a web address such as https://bench.example/")
    return address if not address or address.endswith("/") else address + "/"


def _author(fields: Fields | None) -> tuple[str, str]:
    if fields is None:
        return "", ""
    name, contact = fields.text("name", required=True), fields.text("contact")
    fields.finish()
    return name, contact


def _licences(fields: Fields | None) -> tuple[str, str]:
    if fields is None:
        return "", ""
    text = _matching(fields, "text", _LICENCE, "an SPDX licence expression")
    data = _matching(fields, "data", _LICENCE, "an SPDX licence expression")
    fields.finish()
    return text, data


def _running(fields: Fields | None) -> Running | None:
    if fields is None:
        return None
    hours = fields.number("hours_a_day", required=True, above=0.0, maximum=24.0)
    days = fields.number("days_a_year", required=True, above=0.0, maximum=366.0)
    tariff = fields.number("tariff_per_kwh", required=True, minimum=0.0)
    currency = fields.text("currency", required=True)
    fields.finish()
    if hours is None or days is None or tariff is None or not currency:
        return None
    return Running(hours_a_day=hours, days_a_year=days, tariff_per_kwh=tariff, currency=currency_unit(currency))
