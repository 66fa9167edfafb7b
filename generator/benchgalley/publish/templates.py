"""The page templates: found in the installed package or in a checkout, filled with escaping always on."""

import json
from collections.abc import Callable, Iterator
from datetime import date
from functools import lru_cache
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined, nodes
from jinja2.compiler import CodeGenerator, Frame
from jinja2.runtime import Context
from markupsafe import Markup, escape

from . import page_paths
from .typesetting import escaped, typeset

_MONTHS = (
    "January", "February", "March", "April", "May", "June",
    "July", "August", "September", "October", "November", "December",
)  # fmt: skip
_HERE = Path(__file__).resolve().parent


@lru_cache(maxsize=1)
def layouts_folder() -> Path:
    """The folder of templates and assets. Raises FileNotFoundError when the installation lacks it."""
    for folder in (_HERE.parent / "layouts", _HERE.parents[2] / "layouts"):  # wheel, then checkout
        if (folder / "base.html").is_file():
            return folder
    raise FileNotFoundError("benchgalley's layouts are missing: broken install")


def data_block(value: Any) -> Markup:
    """A value as JSON in a script element; see `script_text`. NaN and infinity are no JSON: ValueError."""
    return script_text(json.dumps(value, allow_nan=False, ensure_ascii=False, separators=(",", ":")))


def script_text(text: str) -> Markup:
    """JSON that cannot end or alter the script element it stands in.

    A script element ends at `</script` and changes state at `<!--` whatever the JSON quoting says.
    """
    for sign in "<>&\u2028\u2029":
        if sign in text:
            text = text.replace(sign, f"\\u{ord(sign):04x}")
    return Markup(text)  # the five signs that matter inside a script element are escaped above


def long_date(iso: str) -> str:
    """`2026-09-20` as `20 September 2026`; any other text as it stands."""
    try:
        day = date.fromisoformat(iso)
    except ValueError:
        return iso
    return f"{day.day} {_MONTHS[day.month - 1]} {day.year}"


@lru_cache(maxsize=256)
def day(iso: str) -> Markup:
    """A date in words that programs can read too."""
    return Markup(f'<time datetime="{escaped(iso)}">{escaped(long_date(iso))}</time>')


def kilobytes(size: int) -> str:
    """The size of a file."""
    if size < 1000:
        return f"{size}\u00a0B"
    return f"{size / 1e3:.0f}\u00a0kB" if size < 1e6 else f"{size / 1e6:.1f}\u00a0MB"


def _set(value: Any) -> str:
    """What a template prints, made safe. A page prints a thousand texts, and most hold no sign to be escaped."""
    return escaped(value) if type(value) is str else value if type(value) is Markup else str(escape(value))


class _Generator(CodeGenerator):
    """Compiles templates to code that calls `_set` where it would escape; anything else as the library does."""

    def _output_child_pre(self, node: nodes.Expr, frame: Frame, finalize: Any) -> None:
        if finalize.src is None and frame.eval_ctx.autoescape and not frame.eval_ctx.volatile:
            self.write("environment.set(")
        else:
            super()._output_child_pre(node, frame, finalize)


class _Context(Context):
    """Calls what a template calls, most often `to`, with no look for what the library would hand over besides.

    Nothing here asks for a context. A macro takes the setting of escaping it was compiled with, which is always on.
    """

    def call(self, called: Callable[..., Any], /, *arguments: Any, **named: Any) -> Any:
        named.pop("_block_vars", None)
        named.pop("_loop_vars", None)
        return called(*arguments, **named)


class _Environment(Environment):
    code_generator_class = _Generator
    context_class = _Context
    set = staticmethod(_set)


@lru_cache(maxsize=1)
def _environment() -> Environment:
    """The templates of this installation; each is read once by a process, and again as `Templates` says."""
    environment = _Environment(
        loader=FileSystemLoader(layouts_folder()),
        auto_reload=False,  # a page takes a dozen, and would look at each of their files
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    environment.globals["paths"] = page_paths
    environment.filters.update(
        data_block=data_block,
        script_text=script_text,
        day=day,
        kilobytes=kilobytes,
        anchor=page_paths.anchor,
        typeset=typeset,
    )
    return environment


def load_templates() -> None:
    """Read every template now, where each would be read by the first page that needs it."""
    for name in layouts_folder().glob("*.html"):
        _environment().get_template(name.name)


class Templates:
    """Fills templates, as they are when this is made. `shared` is known to every page."""

    def __init__(self, shared: dict[str, Any]) -> None:
        self._shared = shared
        read = _environment().cache
        if read and not all(template.is_up_to_date for template in read.values()):
            read.clear()  # pages of one site must not mix templates of before and after

    def fill(self, template: str, here: str, /, **values: Any) -> bytes:
        """The page `here` made from `template`; `to(path)` gives its relative links."""
        # Piece by piece: a whole page as one text would be copied once more.
        return b"".join(map(str.encode, self._pieces(template, here, values)))

    def part(self, template: str, here: str, /, **values: Any) -> Markup:
        """A part of the page `here`, to be set into it."""
        return Markup("".join(self._pieces(template, here, values)))  # filled with escaping on

    def _pieces(self, template: str, here: str, values: dict[str, Any]) -> Iterator[str]:
        def to(path: str) -> str:
            return page_paths.relative(path, here)

        link: Callable[[str], str] = to
        return _environment().get_template(template).generate(self._shared, here=here, to=link, **values)
