"""YAML as a tree of nodes that know their place.

Built from libyaml's events, one by one: so aliases, tags and duplicate keys are refused where they stand,
nesting is bounded before anything recurses, and every scalar keeps the text the author typed.
(YAML 1.1 would read `no` as false, `12:30:00` as 45000 and `010` as 8.)
"""

from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, field
from typing import Any

import yaml

from .problem_list import ProblemList, SourceText, clip

try:
    from yaml import CSafeLoader
except ImportError as error:  # pragma: no cover - depends on how PyYAML was built
    raise ImportError(
        "benchgalley needs PyYAML built with libyaml (the wheels on the package index are); "
        "install python3-yaml or the PyYAML wheel"
    ) from error

DEEPEST = 24
"""Nesting levels allowed; the content format needs five."""


@dataclass(slots=True)
class Node:
    """A scalar, mapping or sequence with its place."""

    kind: str
    """`scalar`, `mapping` or `sequence`."""
    line: int
    column: int
    end_line: int
    end_column: int
    text: str = ""
    """Value of a scalar, as text."""
    style: str | None = None
    """None for a plain scalar; else the quotation mark or `|`, `>`."""
    entries: dict[str, tuple["Node", "Node"]] = field(default_factory=dict)
    """Of a mapping: key → (key node, value node)."""
    items: list["Node"] = field(default_factory=list)
    """Of a sequence."""

    @property
    def length(self) -> int:
        """Characters to underline: the node's own on its first line."""
        return max(1, self.end_column - self.column) if self.end_line == self.line else 1

    @property
    def is_empty(self) -> bool:
        """Nothing written: a plain scalar without text, `~` or `null`."""
        return self.kind == "scalar" and self.style is None and self.text in ("", "~", "null")

    def plain(self) -> Any:
        """The node as plain data; scalars stay the text the author typed."""
        if self.kind == "scalar":
            return self.text
        if self.kind == "sequence":
            return [item.plain() for item in self.items]
        return {key: value.plain() for key, (_, value) in self.entries.items()}


class _RefusedError(Exception):
    """Reading stops here; the problem is already noted."""


def compose(source: SourceText, text: str, line_offset: int, problems: ProblemList) -> Node | None:
    """The tree of a YAML text that starts `line_offset` lines into its file; None with a problem.

    An empty text gives an empty mapping.
    """
    try:
        return _Composer(source, line_offset, problems).run(text)
    except _RefusedError:
        return None
    except yaml.MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        line, column = (mark.line + 1 + line_offset, mark.column + 1) if mark else (1 + line_offset, 1)
        said = error.problem or error.context or "cannot be read"
        problems.add(
            source.problem(
                "yaml-syntax",
                line,
                column,
                f"this is not YAML: {said}",
                "Indent with spaces, put a space after each colon, and quote texts that hold `: `, ` #` or start "
                "with one of @ ` % & * ! [ {.",
            )
        )
    except (yaml.YAMLError, ValueError) as error:
        problems.add(source.problem("yaml-syntax", 1 + line_offset, 1, f"this is not YAML: {clip(str(error))}"))
    return None


def scalar_under(key: str, text: str) -> str:
    """The first scalar under a key of the outermost mapping, read no further than that; empty where there is none."""
    with suppress(yaml.YAMLError, ValueError):
        depth, before = 0, None
        for event in yaml.parse(text, Loader=CSafeLoader):
            if isinstance(event, yaml.CollectionStartEvent):
                depth += 1
            elif isinstance(event, yaml.CollectionEndEvent):
                depth -= 1
                before = None
            elif isinstance(event, yaml.ScalarEvent) and depth == 1:
                if before == key:
                    return str(event.value)
                before = event.value if before is None else None
    return ""


class _Composer:
    def __init__(self, source: SourceText, line_offset: int, problems: ProblemList) -> None:
        self._source = source
        self._offset = line_offset
        self._problems = problems

    def run(self, text: str) -> Node:
        root: Node | None = None
        events = self._events(text)
        for event in events:
            if isinstance(event, yaml.DocumentStartEvent):
                if root is not None:
                    self._refuse(event, "yaml-documents", "a second document starts here", "Keep one document.")
            elif isinstance(event, yaml.NodeEvent):
                root = self._node(event, events)
        return root if root is not None else Node("mapping", 1 + self._offset, 1, 1 + self._offset, 1)

    def _events(self, text: str) -> Iterator[yaml.Event]:
        depth = 0
        for event in yaml.parse(text, Loader=CSafeLoader):
            if isinstance(event, yaml.CollectionStartEvent):
                depth += 1
                if depth > DEEPEST:
                    self._refuse(event, "yaml-depth", f"more than {DEEPEST} levels are nested", "Nest less.")
            elif isinstance(event, yaml.CollectionEndEvent):
                depth -= 1
            yield event

    def _node(self, event: yaml.Event, events: Iterator[yaml.Event]) -> Node:
        anchor, tag = getattr(event, "anchor", None), getattr(event, "tag", None)
        if anchor is not None:
            kind = "an alias" if isinstance(event, yaml.AliasEvent) else "an anchor"
            self._refuse(event, "yaml-alias", f"{kind} (`{clip(anchor)}`) stands here", "Write the value out in full.")
        if tag is not None:
            self._refuse(
                event, "yaml-tag", f"a tag (`{clip(str(tag))}`) stands here", "Remove it; write the plain value."
            )
        node = self._placed(event)
        if isinstance(event, yaml.ScalarEvent):
            node.text, node.style = event.value, event.style or None
        elif isinstance(event, yaml.SequenceStartEvent):
            self._fill_sequence(node, events)
        else:
            self._fill_mapping(node, events)
        return node

    def _fill_sequence(self, node: Node, events: Iterator[yaml.Event]) -> None:
        for event in events:
            if isinstance(event, yaml.SequenceEndEvent):
                self._close(node, event)
                return
            node.items.append(self._node(event, events))

    def _fill_mapping(self, node: Node, events: Iterator[yaml.Event]) -> None:
        for event in events:
            if isinstance(event, yaml.MappingEndEvent):
                self._close(node, event)
                return
            key = self._node(event, events)
            value = self._node(next(events), events)
            if key.kind != "scalar":
                self._refuse(event, "yaml-key", "a key must be a plain word", "Quote or rename it.")
            if key.text in node.entries:
                first = node.entries[key.text][0]
                self._problems.add(
                    self._source.problem(
                        "duplicate-key",
                        key.line,
                        key.column,
                        f"`{clip(key.text)}` stands here a second time; the first is on line {first.line}",
                        "Keep one of them.",
                        length=key.length,
                    )
                )
                continue
            node.entries[key.text] = (key, value)

    def _placed(self, event: yaml.Event) -> Node:
        start, end = _marks(event)
        return Node(
            _KINDS.get(type(event), "mapping"),
            start.line + 1 + self._offset,
            start.column + 1,
            end.line + 1 + self._offset,
            end.column + 1,
        )

    def _close(self, node: Node, event: yaml.Event) -> None:
        _, end = _marks(event)
        node.end_line = end.line + 1 + self._offset
        node.end_column = end.column + 1

    def _refuse(self, event: yaml.Event, rule: str, message: str, mend: str) -> None:
        mark, _ = _marks(event)
        self._problems.add(self._source.problem(rule, mark.line + 1 + self._offset, mark.column + 1, message, mend))
        raise _RefusedError


_KINDS: dict[type[yaml.Event], str] = {yaml.ScalarEvent: "scalar", yaml.SequenceStartEvent: "sequence"}


def _marks(event: yaml.Event) -> tuple[Any, Any]:
    """Start and end of an event read from a text; only events made by hand have none."""
    if event.start_mark is None or event.end_mark is None:
        raise ValueError("an event without a place")
    return event.start_mark, event.end_mark
