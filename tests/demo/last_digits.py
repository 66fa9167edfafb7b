"""Moving a stated number by one unit of its last digit, or beyond its hedge: the falsehood a copying slip makes."""

import re
from pathlib import Path

from benchgalley import pipeline
from benchgalley.records.write_up import Claim

_NUMBER = re.compile(r"\d+(?:[\u202f\u2009\u00a0 ]\d{3})*(?:\.\d+)?")
HEDGES = (
    "about",
    "around",
    "roughly",
    "nearly",
    "almost",
    "just over",
    "just under",
    "some",
    "close to",
    "approximately",
)


def claims_of(site: Path, slug: str) -> list[Claim]:
    checked = pipeline.check(site, slug)
    return [c for c in checked.readings[slug].claims if c.kind == "number"]


def moved(claim: Claim, step: int = 1) -> str | None:
    """The stated text with its first number one unit of the last digit higher; None when it states no digits."""
    match = _NUMBER.search(claim.stated)
    if match is None:
        return None
    digits = match.group()
    hedged = any(word in claim.stated.lower() for word in HEDGES)
    plain = re.sub(r"[^\d.]", "", digits)
    decimals = len(plain.partition(".")[2])
    unit = 10.0**-decimals
    value = float(plain)
    if hedged:
        # Beyond the hedge: half a unit of the last non-zero digit, at most 5 %, at least one unit of the last digit.
        unit = max(unit * 2, value * 0.12)
    text = f"{value + step * unit:.{decimals}f}"
    return claim.stated[: match.start()] + text + claim.stated[match.end() :]
