"""Typed getters over a YAML mapping: each gives a value or notes a problem that names the path to it."""

import datetime
import re
from collections.abc import Iterator, Sequence

from ..records.findings import Location
from .files import UNPRINTABLE
from .number_text import has_leading_zero, number_fault, read_number
from .problem_list import ProblemList, SourceText, clip, nearest, offer
from .scalar_positions import Place, scalar_positions
from .yaml_nodes import Node

KEBAB = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*")
LONGEST_NAME = 64


class Fields:
    """One mapping of a file, with the path that leads to it."""

    def __init__(self, node: Node, source: SourceText, problems: ProblemList, path: str = "") -> None:
        self.node = node
        self.source = source
        self.problems = problems
        self._path = path
        self._asked: list[str] = []

    # -- places and problems

    def path(self, key: str) -> str:
        """Path of a key, as printed: `instruments.clamp.gain_error_pct`."""
        return f"{self._path}.{key}" if self._path else key

    def where(self, key: str = "") -> Location:
        """Place of a value, or of the mapping itself."""
        node = self.node.entries[key][1] if key in self.node.entries else self.node
        return self.source.at(node.line, node.column, node.length)

    def complain(self, rule: str, node: Node, message: str, mend: str = "") -> None:
        """Note a problem at a node."""
        self.problems.add(self.source.problem(rule, node.line, node.column, message, mend, length=node.length))

    def wrong(self, key: str, rule: str, message: str, mend: str = "") -> None:
        """Note a problem at the value of a key, or at the mapping when the key is absent."""
        node = self.node.entries[key][1] if key in self.node.entries else self.node
        self.complain(rule, node, message, mend)

    def has(self, key: str) -> bool:
        """Whether a value is written for a key."""
        entry = self.node.entries.get(key)
        return entry is not None and not entry[1].is_empty

    def value(self, key: str, *, required: bool = False, write: str = "") -> Node | None:
        """Node of a key's value; None when absent or empty, with a problem when it is required.

        `write`: what to write then, when that is not plain.
        """
        if key not in self._asked:
            self._asked.append(key)
        entry = self.node.entries.get(key)
        if entry is not None and not entry[1].is_empty:
            return entry[1]
        if required:
            node = entry[0] if entry else self.node
            what = "has no value" if entry else "is missing"
            self.problems.add(
                self.source.problem(
                    "missing-key",
                    node.line,
                    node.column,
                    f"`{self.path(key)}` {what}",
                    write or f"Write `{key}: ...`.",
                    length=node.length if node.kind == "scalar" else 1,
                )
            )
        return None

    # -- scalars

    def _scalar(self, key: str, expected: str, *, required: bool, write: str = "") -> Node | None:
        node = self.value(key, required=required, write=write)
        if node is not None and node.kind != "scalar":
            self.complain("wrong-type", node, f"`{self.path(key)}` is a {node.kind}; {expected} was expected")
            return None
        return node

    def text(self, key: str, default: str = "", *, required: bool = False) -> str:
        """A text: any scalar as typed, so `version: 1.10` stays `1.10`."""
        node = self._scalar(key, "a text", required=required)
        return default if node is None else self.text_of(node, self.path(key), default)

    def text_of(self, node: Node, path: str, default: str = "") -> str:
        """The text of a scalar node, refused when it holds control characters."""
        if node.kind != "scalar":
            self.complain("wrong-type", node, f"`{path}` is a {node.kind}; a text was expected")
            return default
        text = " ".join(node.text.split("\n")).strip() if "\n" in node.text else node.text.strip()
        if (found := UNPRINTABLE.search(text)) or "\t" in text or "\r" in text:
            code = f"U+{ord(found.group()):04X}" if found else "a tab or line end"
            self.complain("control-character", node, f"`{path}` holds {code}", "Delete it.")
            return default
        return text

    def placed_text(self, key: str, *, required: bool = False) -> tuple[str, list[Place]] | None:
        """A text with the place of each character; line ends of block scalars are kept as they are."""
        node = self._scalar(key, "a text", required=required)
        return None if node is None else self.placed_text_of(node, self.path(key))

    def placed_text_of(self, node: Node, path: str) -> tuple[str, list[Place]] | None:
        """Like `placed_text`, for a node in hand."""
        if node.kind != "scalar":
            self.complain("wrong-type", node, f"`{path}` is a {node.kind}; a text was expected")
            return None
        errors = self.problems.errors
        self.text_of(node, path)
        if self.problems.errors > errors:
            return None
        positions = scalar_positions(node, self.source.lines)
        text = node.text.rstrip()
        start = len(text) - len(text.lstrip())
        return text[start:], positions[start : len(text)]

    def number(
        self,
        key: str,
        *,
        required: bool = False,
        minimum: float | None = None,
        maximum: float | None = None,
        above: float | None = None,
    ) -> float | None:
        """A finite number without unit; None when absent, or with a problem."""
        node = self._scalar(key, "a number", required=required)
        if node is None:
            return None
        return self.number_of(node, self.path(key), minimum=minimum, maximum=maximum, above=above)

    def number_of(
        self,
        node: Node,
        path: str,
        *,
        minimum: float | None = None,
        maximum: float | None = None,
        above: float | None = None,
    ) -> float | None:
        """The number of a scalar node, or None with a problem."""
        if node.kind != "scalar":
            self.complain("wrong-type", node, f"`{path}` is a {node.kind}; a number was expected")
            return None
        shown = clip(node.text)
        value = read_number(node.text)
        if node.style is not None and value is not None:
            self.complain(
                "wrong-type", node, f'`{path}` is the text "{shown}"; a number was expected', f"Write {shown} unquoted."
            )
            return None
        if value is None:
            fault, mend = number_fault(node.text)
            self.complain("wrong-type", node, f"`{path}` is `{shown}`, which {fault}; a number was expected", mend)
            return None
        if has_leading_zero(node.text):
            self.complain(
                "wrong-type",
                node,
                f"`{path}` is `{shown}`, which some readers take for base eight; a number was expected",
                f"Write {int(node.text)}.",
            )
            return None
        if (limit := _beyond(value, minimum, maximum, above)) != "":
            self.complain("out-of-range", node, f"`{path}` is {shown}; {limit} was expected")
            return None
        return value

    def flag(self, key: str, default: bool) -> bool:
        """`true` or `false`."""
        node = self._scalar(key, "true or false", required=False)
        if node is None:
            return default
        if node.style is None and node.text in ("true", "false"):
            return node.text == "true"
        self.complain("wrong-type", node, f"`{self.path(key)}` is `{clip(node.text)}`; true or false was expected")
        return default

    def choice(self, key: str, words: Sequence[str], default: str = "", *, required: bool = False) -> str:
        """One of some words; the nearest is offered for another."""
        write = f"Write `{key}: ...` with one of {', '.join(f'`{w}`' for w in words)}."
        node = self._scalar(key, "a word", required=required, write=write)
        if node is None or node.text in words:
            return default if node is None else node.text
        self.complain(
            "unknown-word",
            node,
            f"`{self.path(key)}` is `{clip(node.text)}`; one of {', '.join(f'`{w}`' for w in words)} was expected",
            offer(node.text, words, "Allowed") if nearest(node.text, words) else "",
        )
        return default

    def date(self, key: str, *, required: bool = False) -> str:
        """A calendar date as in ISO 8601, kept as text."""
        node = self._scalar(key, "a date", required=required)
        if node is None:
            return ""
        if (text := node.text) and re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", text):
            try:
                datetime.date.fromisoformat(text)
                return text
            except ValueError:
                pass
        self.complain(
            "wrong-type",
            node,
            f"`{self.path(key)}` is `{clip(text)}`; a date was expected",
            "Write year-month-day, such as 2026-03-01.",
        )
        return ""

    # -- names, lists, mappings

    def name_is_good(self, key_node: Node, path: str) -> bool:
        """Whether a key that serves as a name is kebab-case; a problem otherwise."""
        if KEBAB.fullmatch(key_node.text) and len(key_node.text) <= LONGEST_NAME:
            return True
        self.complain("bad-name", key_node, *bad_name(path, key_node.text))
        return False

    def texts(self, key: str) -> tuple[str, ...]:
        """A list of texts."""
        return tuple(self.text_of(node, self.path(key)) for node in self.sequence(key))

    def sequence(self, key: str, *, required: bool = False) -> list[Node]:
        """Nodes of a list; empty when absent."""
        node = self.value(key, required=required)
        if node is None:
            return []
        if node.kind != "sequence":
            self.complain(
                "wrong-type", node, f"`{self.path(key)}` is a {node.kind}; a list was expected", "Write [a, b]."
            )
            return []
        return node.items

    def inner(self, key: str, *, required: bool = False, write: str = "") -> "Fields | None":
        """The mapping under a key; None when absent. `write`: as in `value`."""
        node = self.value(key, required=required, write=write)
        return None if node is None else self.fields_of(node, self.path(key))

    def fields_of(self, node: Node, path: str) -> "Fields | None":
        """A node as a mapping; an empty value counts as an empty mapping."""
        if node.is_empty:
            node = Node("mapping", node.line, node.column, node.end_line, node.end_column)
        if node.kind != "mapping":
            self.complain("wrong-type", node, f"`{path}` is a {node.kind}; a mapping (`key: value`) was expected")
            return None
        return Fields(node, self.source, self.problems, path)

    def named(self, key: str, *, required: bool = False) -> Iterator[tuple[str, Node, "Fields"]]:
        """Entries of a mapping of named mappings: (name, name's node, fields). Bad names are left out."""
        outer = self.inner(key, required=required)
        if outer is None:
            return
        for name, (key_node, node) in outer.node.entries.items():
            fields = self.fields_of(node, outer.path(name))
            if self.name_is_good(key_node, outer.path(name)) and fields is not None:
                yield name, key_node, fields

    def text_map(self, key: str) -> dict[str, str]:
        """A mapping of free labels to texts."""
        outer = self.inner(key)
        if outer is None:
            return {}
        found: dict[str, str] = {}
        for label, (key_node, node) in outer.node.entries.items():
            if UNPRINTABLE.search(label) or not label.strip():
                self.complain("control-character", key_node, f"a label of `{self.path(key)}` cannot be printed")
            elif not node.is_empty:
                found[label] = self.text_of(node, outer.path(label))
        return found

    def finish(self, *more: str) -> None:
        """Note every key nobody asked for; `more` are keys known but not asked this time."""
        known = [*self._asked, *more]
        for key, (key_node, _) in self.node.entries.items():
            if key not in known:
                self.complain(
                    "unknown-key",
                    key_node,
                    f"`{clip(self.path(key))}` is not a key here",
                    offer(key, known, "Keys here"),
                )


def bad_name(path: str, name: str) -> tuple[str, str]:
    """Message and mend for a name that is not kebab-case."""
    made = re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")[:LONGEST_NAME]
    mend = f"Write `{made}`." if made else "Use small letters, digits and single hyphens."
    return f"the name `{clip(path)}` is not made of small letters, digits and single hyphens", mend


def _beyond(value: float, minimum: float | None, maximum: float | None, above: float | None) -> str:
    if above is not None and value <= above:
        return f"a number above {above:g}"
    if minimum is not None and value < minimum:
        return f"at least {minimum:g}"
    if maximum is not None and value > maximum:
        return f"at most {maximum:g}"
    return ""
