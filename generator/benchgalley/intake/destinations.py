"""Where the charts and relative links of a write-up lead: to a kind that is drawn, to a file the site publishes."""

import posixpath
import re
from collections.abc import Iterable, Mapping
from pathlib import Path
from urllib.parse import unquote

from ..records.noted import note
from ..records.write_up import Text, TextLink
from .files import relative
from .problem_list import ProblemList, SourceText, clip, nearest, offer
from .prose import ImageUse

CHART_KINDS = (
    "score-against-power",
    "score-per-watt",
    "differences",
    "power-scaling",
    "trade-front",
    "offset-ladder",
    "log-window",
)
"""What `chart:` places in the prose of a write-up."""
SITE_CHARTS = {"comparison": "the comparison page", "samples": "the page of the card"}
"""Charts over several write-ups, and where they stand."""
SITE_PAGES = frozenset(
    {
        "index.html",
        "compare.html",
        "ledger.html",
        "methods.html",
        "data.html",
        "corrections.html",
        "worksheet.html",
        "record.json",
    }
)
"""Pages and files at the root of every site."""
_OWN_FILES = ("index.html", "numbers.html", "trials.csv", "results.csv")
_SCHEME = re.compile(r"[A-Za-z][A-Za-z0-9+.-]*:|//")


def check_charts(source: SourceText, uses: Iterable[ImageUse], problems: ProblemList) -> None:
    """Every chart placed in the prose is of a kind that is drawn for a write-up."""
    for use in uses:
        scheme, _, kind = use.destination.partition(":")
        if scheme.lower() != "chart" or kind in CHART_KINDS:
            continue
        if page := SITE_CHARTS.get(kind):
            message, mend = f"the chart `{kind}` stands on {page}, not in a write-up", "Remove it here."
        else:
            message, mend = f"`{clip(kind)}` is no kind of chart", _nearest_kind(kind)
        problems.add(source.problem("unknown-chart", use.line, use.column, message, mend, length=use.length))


def _nearest_kind(kind: str) -> str:
    if not nearest(kind, CHART_KINDS):
        # A part of a name is not near the whole of it by its letters: `ladder` for `offset-ladder`.
        parts = [known for known in CHART_KINDS if kind and kind in known]
        if len(parts) == 1:
            return f"Did you mean `{parts[0]}`?"
    return offer(kind, CHART_KINDS, "Kinds")


def check_links(
    source: SourceText, texts: Iterable[Text], images: Mapping[str, bytes], folder: Path, problems: ProblemList
) -> None:
    """Every relative link leads to a page or file that is published with the site. `folder`: of the write-up."""
    for text in texts:
        for link in text.links:
            if _SCHEME.match(link.destination) or link.destination.startswith("#"):
                continue
            if fault := _link_fault(link.destination, images, folder):
                line, column, length = _place(text, link)
                problems.add(source.problem("dead-link", line, column, *fault, length=length))


def _place(text: Text, link: TextLink) -> tuple[int, int, int]:
    if link.destination_at is not None:
        return link.destination_at
    line, column = text.positions[min(link.start, len(text.positions) - 1)] if text.positions else (1, 1)
    return line, column, 1


def _link_fault(destination: str, images: Mapping[str, bytes], folder: Path) -> tuple[str, str] | None:
    """(what is wrong, how to mend it) of a relative link; None when its target is published."""
    written = unquote(re.split(r"[#?]", destination, maxsplit=1)[0])
    if not written:
        return "this link leads nowhere", "Write its destination between the round brackets."
    shown = clip(destination)
    target = posixpath.normpath(posixpath.join("write-ups", folder.name, written))
    if _is_published(target, images, folder):
        return None
    mend = "Link a published file (trials.csv, images/...), another write-up (../its-name/) or a whole address."
    neighbours = [f"../{path.parent.name}/" for path in sorted(folder.parent.glob("*/write-up.md"))]
    if close := nearest(written, [f"images/{name}" for name in images] + neighbours + list(_OWN_FILES)):
        mend = f"Did you mean `{close}`?"
    there = not written.startswith("/") and (folder / written).exists()
    return f"`{shown}` {'is not published with the site' if there else 'leads to no file of the site'}", mend


def _is_published(target: str, images: Mapping[str, bytes], folder: Path) -> bool:
    if target in SITE_PAGES or target == ".":
        return True
    shelf, _, rest = target.partition("/")
    name, _, file = rest.partition("/")
    if shelf == "cards":
        return file in ("", "index.html") and _is_there(folder.parents[1] / "cards" / f"{name}.yaml", folder)
    if shelf != "write-ups" or not _is_there(folder.parent / name / "write-up.md", folder):
        return False
    if file.startswith("images/") and name == folder.name:
        return file.removeprefix("images/") in images
    # write-up.md of another one: as it stands in the source, which the site turns into its page.
    return file in ("", *_OWN_FILES, f"{name}.zip") or (file == "write-up.md" and name != folder.name)


def _is_there(path: Path, folder: Path) -> bool:
    """Whether a file of the content tree is there; `folder` is that of a write-up."""
    note(f"there/{relative(path, folder.parents[2])}")
    return path.is_file()
