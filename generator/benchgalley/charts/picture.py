"""From a drawing to a picture: compile the template once, bind data, draw, make the result fit for any page."""

import hashlib
import inspect
import json
import math
import re
import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache as keep
from importlib.metadata import version
from typing import Any, Protocol
from xml.etree import ElementTree

import orjson

from ..records.figure import Figure
from . import templates, theme

_SVG = "http://www.w3.org/2000/svg"
_VEGA_LITE = "6.4"
"""Vega-Lite version that both altair and vl-convert speak."""


class SvgCache(Protocol):
    """Where drawn pictures are kept between builds. The store is the caller's."""

    def get(self, key: str) -> str | None:
        """The text kept under a key, or None."""

    def put(self, key: str, text: str) -> None:
        """Keep a text under a key."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Drawing:
    """A figure before it is drawn: what goes into the picture, and the words that go with it."""

    id: str
    """Unique on its page and permanent."""
    kind: str
    """Key of the chart kind."""
    template: str
    """Name in `templates.TEMPLATES`."""
    title: str
    caption: str
    alternative: str
    columns: tuple[str, ...]
    """Heads of the data table."""
    rows: tuple[tuple[str, ...], ...]
    """Cells of the data table, as printed."""
    data: Mapping[str, Sequence[Mapping[str, Any]]] = field(repr=False)
    """Named data of the template -> rows."""
    signals: Mapping[str, float | str] = field(repr=False)
    """Signals of the template -> value: axis ranges and titles."""
    addresses: tuple[str, ...] = ()


def kept_picture(figure: Figure, slug: str, cache: SvgCache) -> str | None:
    """The picture of a figure of a write-up, from what was drawn before; None when that is gone."""
    return cache.get(_picture_key(prefix_of(slug, figure.id), figure.kind, figure.spec))


def prefix_of(owner: str, figure_id: str) -> str:
    """What ids inside a picture start with; `owner`: the write-up or card it belongs to."""
    return f"{owner}-{figure_id}"


def picture(drawing: Drawing, prefix: str, cache: SvgCache | None = None) -> Figure:
    """Draw it. Ids inside the picture start with `prefix`, so that pictures share a page without collision."""
    spec = bind(template(drawing.template, cache), drawing)
    live = _live(drawing.template, spec)
    key = _picture_key(prefix, drawing.kind, live)
    svg = cache.get(key) if cache is not None else None
    if svg is None:
        svg = tidy(_drawn(spec), prefix, drawing.kind)
        if cache is not None:
            cache.put(key, svg)
    return Figure(
        id=drawing.id,
        kind=drawing.kind,
        title=drawing.title,
        caption=drawing.caption,
        alternative=drawing.alternative,
        columns=drawing.columns,
        rows=drawing.rows,
        svg=svg,
        spec=live,
        addresses=drawing.addresses,
    )


def _picture_key(prefix: str, kind: str, spec: str) -> str:
    return _key("picture", prefix, kind, spec)


def template(name: str, cache: SvgCache | None = None) -> dict[str, Any]:
    """The compiled Vega specification of a template, without data. Treat it as read-only."""
    if name not in _compiled:
        key = _key("template", name)
        text = cache.get(key) if cache is not None else None
        if text is None:
            text = json.dumps(_compile(name), ensure_ascii=False, separators=(",", ":"))
            if cache is not None:
                cache.put(key, text)
        _compiled[name] = json.loads(text)
    return _compiled[name]


_compiled: dict[str, dict[str, Any]] = {}
_BOUND = ("data", "signals")
"""Parts of a specification that hold something of the drawing; all others are those of its template."""


def _compile(name: str) -> dict[str, Any]:
    import altair as alt
    import vl_convert

    chart = dict(templates.TEMPLATES)[name](alt).properties(
        width=theme.WIDTH, autosize=alt.AutoSizeParams(type="fit-x", contains="padding")
    )
    spec = {**chart.to_dict(), "config": theme.configuration()}
    vega: dict[str, Any] = vl_convert.vegalite_to_vega(spec, vl_version=_VEGA_LITE)
    holes: set[str] = set()
    vega = _with_signals(vega, holes)
    vega["signals"] = [*vega.get("signals", ()), *({"name": hole, "value": ""} for hole in sorted(holes))]
    vega["axes"] = _with_their_grids(vega["axes"])
    vega["padding"] = {"left": 12, "right": 12, "top": 8, "bottom": 4}
    return vega


def _with_their_grids(axes: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Grid lines drawn by the axis they belong to.

    The library gives them an axis of their own, without ticks or labels: the picture is the same, and a tenth of the
    time of drawing it goes there.
    """
    grids = {axis["scale"]: axis for axis in axes if axis.get("grid") and axis.get("labels") is False}
    return [
        {**axis, "grid": True, "gridScale": grids[axis["scale"]]["gridScale"]} if axis["scale"] in grids else axis
        for axis in axes
        if axis not in grids.values()
    ]


def _with_signals(part: Any, holes: set[str]) -> Any:
    if isinstance(part, dict):
        return {key: _with_signals(value, holes) for key, value in part.items()}
    if isinstance(part, list):
        return [_with_signals(value, holes) for value in part]
    if isinstance(part, str) and part.startswith("@"):
        holes.add(part[1:])
        return {"signal": part[1:]}
    return part


def bind(spec: Mapping[str, Any], drawing: Drawing) -> dict[str, Any]:
    """The specification with the drawing's data and signal values; the template itself stays as it is."""
    unknown = set(drawing.signals) - {s["name"] for s in spec["signals"]}
    unknown |= set(drawing.data) - {d["name"] for d in spec["data"]}
    for value in (v for rows in drawing.data.values() for row in rows for v in row.values()):
        # JSON has no form of it, and a chart would take what is absent for 0.
        if isinstance(value, float) and not math.isfinite(value):
            raise ValueError(f"{drawing.id} holds {value}, which cannot be drawn")
    if unknown:
        raise KeyError(f"template {drawing.template} has no {', '.join(sorted(unknown))}")
    data = [{**d, "values": list(drawing.data.get(d["name"], ()))} if _is_named(d) else d for d in spec["data"]]
    signals = [
        {**s, "value": drawing.signals[s["name"]]} if s["name"] in drawing.signals else s for s in spec["signals"]
    ]
    return {**spec, "data": data, "signals": signals}


def _is_named(source: Mapping[str, Any]) -> bool:
    return "source" not in source and "url" not in source


def _drawn(spec: dict[str, Any]) -> str:
    import vl_convert

    svg: str = vl_convert.vega_to_svg(spec)
    return svg


def _live(name: str, spec: Mapping[str, Any]) -> str:
    """The specification of a template with data, as JSON for the browser, keys in order."""
    if name not in _written:
        _written[name] = {key: _as_text(part) for key, part in spec.items() if key not in _BOUND}
    texts = _written[name] | {key: _as_text(spec[key]) for key in _BOUND}
    return "{" + ",".join(f'"{key}":{texts[key]}' for key in sorted(texts)) + "}"


_written: dict[str, dict[str, str]] = {}
"""Template → its own parts as text."""


def _as_text(part: Any) -> str:
    """JSON whose colours come from the style sheet, so that a live picture follows the reader's scheme."""
    text = orjson.dumps(part, option=_AS_IT_IS).decode()
    if '"#' in text:
        for colour, variable in theme.VARIABLES.items():
            text = text.replace(f'"{colour}"', f'"var(--{variable}, {colour})"')
    return text


_AS_IT_IS = orjson.OPT_SORT_KEYS | orjson.OPT_SERIALIZE_NUMPY


@keep
def _program() -> str:
    """What draws: libraries and our own modules, so that a change of either never meets pictures of the old one."""
    libraries = [f"{name} {version(name)}" for name in ("altair", "vl-convert-python")]
    own = [inspect.getsource(module) for module in (sys.modules[__name__], templates, theme)]
    return hashlib.sha256("\0".join((*libraries, *own)).encode()).hexdigest()


def _key(*parts: str) -> str:
    return hashlib.sha256("\0".join((_program(), *parts)).encode()).hexdigest()


_REFERENCE = re.compile(r"url\(#([^)]+)\)")
_LONG_FRACTION = re.compile(r"-?\d+\.\d{3,}(?:e-?\d+)?")


def tidy(svg: str, prefix: str, kind: str) -> str:
    """Stable ids, classes for colours, no style attribute, no empty part, coordinates to a hundredth.

    The drawing library numbers ids by a counter of the process; here they are counted within the picture.
    """
    ElementTree.register_namespace("", _SVG)
    root = ElementTree.fromstring(svg)
    ids = {e.get("id", ""): f"{prefix}-{n}" for n, e in enumerate(e for e in root.iter() if e.get("id"))}
    _prune(root)
    for element in root.iter():
        _mend(element, ids)
    root.set("class", f"chart chart-{kind}")
    root.set("preserveAspectRatio", "xMidYMid meet")
    return ElementTree.tostring(root, encoding="unicode")


def _prune(parent: ElementTree.Element) -> None:
    """Drop parts that draw nothing: hidden paths, backgrounds without paint."""
    for child in list(parent):
        if _draws_nothing(child):
            parent.remove(child)
        else:
            _prune(child)


def _draws_nothing(part: ElementTree.Element) -> bool:
    if part.get("display") == "none" or part.get("d") == "":
        return True
    painted = part.get("fill", "none") != "none" or part.get("stroke", "none") != "none"
    if part.tag == f"{{{_SVG}}}path":
        return "background" in part.get("class", "") and not painted
    return part.tag == f"{{{_SVG}}}rect" and part.get("fill") == "transparent"


_DROPPED = ("pointer-events", "aria-hidden", "role", "aria-roledescription", "aria-label", "version")


def _mend(element: ElementTree.Element, ids: Mapping[str, str]) -> None:
    for declaration in (element.attrib.pop("style", None) or "").split(";"):
        name, _, value = declaration.partition(":")
        if value.strip():
            element.set(name.strip(), value.strip())
    for name in _DROPPED:
        element.attrib.pop(name, None)
    classes = []
    for name, value in list(element.attrib.items()):
        if name in ("fill", "stroke") and value.lower() in theme.VARIABLES:
            classes.append(f"chart-{name}-{theme.VARIABLES[value.lower()]}")
        elif name == "id":
            element.set(name, ids[value])
        elif name in ("d", "transform", "x", "y", "x1", "x2", "y1", "y2", "width", "height", "r"):
            element.set(name, _LONG_FRACTION.sub(_short, value))
        elif "url(#" in value:
            element.set(name, _REFERENCE.sub(lambda k: f"url(#{ids.get(k[1], k[1])})", value))
    if classes:
        element.set("class", " ".join(classes))
    else:
        element.attrib.pop("class", None)


def _short(number: re.Match[str]) -> str:
    text = f"{float(number[0]):.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text
