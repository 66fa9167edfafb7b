"""The front matter of a write-up: everything between the `---` lines, validated as far as one file can tell."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from ..records.address import Address
from ..records.bench import Sequence, SequenceKind, Setpoint
from ..records.findings import Location
from ..records.quantity import SETTING_BY_COLUMN, SETTINGS
from ..records.write_up import AcceptedWord, LogRules, Margins, Revision, Text
from .column_rules import ColumnRule, read_columns, read_margins
from .fields import Fields
from .files import path_fault
from .log_rules import read_log_rules
from .problem_list import ProblemList, SourceText, clip, offer
from .prose import inline_text
from .yaml_nodes import Node, compose

ORDERS = ("shuffled", "rising", "falling", "blocked")
_FENCE = re.compile(r"---[ \t]*")


@dataclass(frozen=True, kw_only=True, slots=True)
class FrontMatter:
    """Front matter before its references are resolved."""

    title: Text
    summary: Text
    published: str
    references: Mapping[str, tuple[str, Location]]
    """`card`, `sample`, `bench`, `load` → (id, place)."""
    setpoints: Mapping[str, Setpoint]
    baseline: str
    baseline_where: Location
    sequences: Mapping[str, Sequence]
    columns: Mapping[str, ColumnRule]
    logs: LogRules | None
    margins: Margins
    claim_names: Mapping[str, str]
    accepted: tuple[AcceptedWord, ...]
    revisions: tuple[Revision, ...]
    captions: Mapping[str, tuple[Text | None, Location]]
    """Image file → (caption, place)."""
    stopping_rule: str
    invented: bool
    texts: tuple[Text, ...]
    """Title and summary first; then labels, revisions, reasons, captions, the stopping rule."""
    plain: Mapping[str, Any] = field(repr=False)
    body_line: int
    source: SourceText = field(repr=False)
    faulty: bool = False
    """Some of it was refused: good for reading the other files as far as they do not depend on it."""


def split(source: SourceText, problems: ProblemList) -> tuple[str, int] | None:
    """YAML text and the line the body starts on; None with a problem when the `---` lines are missing."""
    lines = source.lines
    if not source.text.strip():
        problems.add(source.problem("empty-file", 1, 1, "the file is empty", "Start it with front matter."))
        return None
    if not _FENCE.fullmatch(lines[0]):
        problems.add(
            source.problem("missing-front-matter", 1, 1, "a line `---` was expected here", "Start with front matter.")
        )
        return None
    for number, line in enumerate(lines[1:], 2):
        if _FENCE.fullmatch(line):
            return "\n".join(lines[1 : number - 1]) + "\n", number + 1
    problems.add(
        source.problem("missing-front-matter", 1, 1, "the front matter has no end", "Close it with a line `---`.")
    )
    return None


def read_front_matter(source: SourceText, problems: ProblemList) -> FrontMatter | None:
    """The front matter, marked when it has faults; None when it is no mapping at all (problems say why)."""
    parts = split(source, problems)
    if parts is None:
        return None
    text, body_line = parts
    before = problems.errors
    node = compose(source, text, 1, problems)
    if node is None:
        return None
    if node.kind != "mapping":
        problems.add(source.problem("wrong-type", 2, 1, f"the front matter is a {node.kind}; a mapping was expected"))
        return None
    found = _Reader(Fields(node, source, problems)).read(body_line)
    return replace(found, faulty=problems.errors > before)


class _Reader:
    def __init__(self, fields: Fields) -> None:
        self._fields = fields
        self._source = fields.source
        self._problems = fields.problems
        self._texts: list[Text] = []

    def read(self, body_line: int) -> FrontMatter:
        fields = self._fields
        title = self._text(fields, "title", "title", required=True)
        summary = self._text(fields, "summary", "summary", required=True)
        setpoints = self._setpoints()
        found = FrontMatter(
            title=title,
            summary=summary,
            published=fields.date("published", required=True),
            references={
                key: (fields.text(key, required=True), fields.where(key)) for key in ("card", "sample", "bench", "load")
            },
            setpoints=setpoints,
            baseline=self._setpoint_name("baseline", fields, setpoints, required=True),
            baseline_where=fields.where("baseline"),
            sequences=self._sequences(setpoints),
            columns=read_columns(fields.inner("columns")),
            logs=read_log_rules(fields.inner("logs")),
            margins=read_margins(fields.inner("margins")),
            claim_names=self._claims(),
            accepted=tuple(self._accepted()),
            revisions=tuple(self._revisions()),
            captions=dict(self._captions()),
            stopping_rule=self._text(fields, "stopping_rule", "meta").text,
            invented=fields.flag("invented", False),
            texts=tuple(self._texts),
            plain=fields.node.plain(),
            body_line=body_line,
            source=self._source,
        )
        fields.finish()
        return found

    # -- texts

    def _text(self, fields: Fields, key: str, place: str, *, required: bool = False) -> Text:
        placed = fields.placed_text(key, required=required)
        if placed is None:
            return Text(place=place, text="", positions=(), file=self._source.file)
        text = inline_text(place, *placed, self._source, self._problems)
        self._texts.append(text)
        return text

    # -- setpoints and sequences

    def _settings(self, fields: Fields, *, skip: str = "") -> dict[str, float | str]:
        """Every settings column → value, defaults filled in; `skip` is left out (the one a sequence varies)."""
        settings: dict[str, float | str] = {}
        for kind in SETTINGS:
            if kind.column == skip:
                if fields.has(skip):
                    fields.wrong(skip, "setting-varies", f"`{fields.path(skip)}` is held and varied at once")
                fields.value(skip)
            elif kind.unit is None:
                settings[kind.column] = fields.text(kind.column) or kind.default
            else:
                above = 0.0 if kind.column == "power_limit_pct" else None
                value = fields.number(kind.column, above=above)
                settings[kind.column] = kind.default if value is None else value
        return settings

    def _setpoints(self) -> dict[str, Setpoint]:
        setpoints: dict[str, Setpoint] = {}
        for name, key_node, fields in self._fields.named("setpoints", required=True):
            settings = self._settings(fields)
            label = self._text(fields, "label", "label").text
            fields.finish()
            twin = next((s.name for s in setpoints.values() if s.settings == settings), None)
            if twin is not None:
                fields.complain(
                    "same-settings",
                    key_node,
                    f"the setpoints `{twin}` and `{name}` have the same settings",
                    "Keep one of them, or change a setting.",
                )
            setpoints[name] = Setpoint(
                name=name, settings=settings, label=label or _spaced(name), where=_place(fields, key_node)
            )
        return setpoints

    def _setpoint_name(
        self, key: str, fields: Fields, setpoints: Mapping[str, Setpoint], *, required: bool = False
    ) -> str:
        name = fields.text(key, required=required)
        if name and name not in setpoints:
            fields.wrong(
                key,
                "unknown-setpoint",
                f"`{fields.path(key)}` is `{clip(name)}`, which is no setpoint here",
                offer(name, setpoints, "Setpoints"),
            )
        return name

    def _sequences(self, setpoints: Mapping[str, Setpoint]) -> dict[str, Sequence]:
        sequences: dict[str, Sequence] = {}
        for name, key_node, fields in self._fields.named("sequences"):
            if name in setpoints:
                fields.complain(
                    "name-taken",
                    key_node,
                    f"`{name}` is a setpoint and a sequence",
                    "Rename one: addresses need one meaning.",
                )
            kind = fields.choice("kind", [k.value for k in SequenceKind], required=True)
            if kind == SequenceKind.SOAK:
                setting, held = "", {}
                setpoint = self._setpoint_name("setpoint", fields, setpoints, required=True)
            else:
                setpoint = ""
                setting = fields.choice("setting", tuple(SETTING_BY_COLUMN), required=True)
                empty = Node("mapping", key_node.line, key_node.column, key_node.end_line, key_node.end_column)
                inner = fields.inner("held") or Fields(empty, self._source, self._problems, fields.path("held"))
                held = self._settings(inner, skip=setting)
                inner.finish()
            sequence = Sequence(
                name=name,
                kind=SequenceKind(kind or "sweep"),
                setting=setting,
                held=held,
                setpoint=setpoint,
                order=fields.choice("order", ORDERS, "shuffled" if kind in ("sweep", "walk") else "falling"),
                label=self._text(fields, "label", "label").text or _spaced(name),
                where=_place(fields, key_node),
            )
            fields.finish()
            sequences[name] = sequence
        return sequences

    # -- claims, words, revisions, images

    def _claims(self) -> dict[str, str]:
        outer = self._fields.inner("claims")
        names: dict[str, str] = {}
        for name, (key_node, node) in (outer.node.entries if outer else {}).items():
            assert outer is not None
            text = outer.text_of(node, outer.path(name))
            if outer.name_is_good(key_node, outer.path(name)) and self._is_address(outer, node, outer.path(name), text):
                names[name] = text
        return names

    def _is_address(self, fields: Fields, node: Node, path: str, text: str) -> bool:
        if Address.parse(text, "here") is not None:
            return True
        fields.complain(
            "bad-address",
            node,
            f"`{clip(path)}` is `{clip(text)}`, which is no address",
            "Write setpoint/quantity or setpoint/quantity/relation, such as tuned/board-power/saved.",
        )
        return False

    def _mappings(self, key: str) -> list[Fields]:
        found = []
        for i, node in enumerate(self._fields.sequence(key)):
            inner = self._fields.fields_of(node, f"{key}[{i + 1}]")
            if inner is not None:
                found.append(inner)
        return found

    def _accepted(self) -> list[AcceptedWord]:
        words = []
        for inner in self._mappings("accepted_words"):
            word = inner.text("word", required=True)
            address = inner.text("address", required=True)
            if address:
                self._is_address(inner, inner.node.entries["address"][1], inner.path("address"), address)
            reason = self._text(inner, "reason", "meta", required=True)
            inner.finish()
            words.append(AcceptedWord(word=word, address=address, reason=reason, where=inner.where()))
        return words

    def _revisions(self) -> list[Revision]:
        revisions = []
        for inner in self._mappings("revisions"):
            date = inner.date("date", required=True)
            what = self._text(inner, "what", "revision", required=True)
            addresses = inner.texts("addresses")
            for node, text in zip(inner.sequence("addresses"), addresses, strict=True):
                self._is_address(inner, node, inner.path("addresses"), text)
            was = self._stated_before(inner)
            inner.finish()
            revisions.append(Revision(date=date, what=what, addresses=addresses, where=inner.where(), was=was))
        return revisions

    def _stated_before(self, revision: Fields) -> dict[str, str]:
        """Address → what was published for it before the revision."""
        outer = revision.inner("was")
        was: dict[str, str] = {}
        for address, (key_node, node) in (outer.node.entries if outer else {}).items():
            assert outer is not None
            if self._is_address(outer, key_node, outer.path(address), address):
                was[address] = outer.text_of(node, outer.path(address))
        return was

    def _captions(self) -> dict[str, tuple[Text | None, Location]]:
        outer = self._fields.inner("images")
        captions: dict[str, tuple[Text | None, Location]] = {}
        for name, (key_node, node) in (outer.node.entries if outer else {}).items():
            assert outer is not None
            if (fault := path_fault(name)) or "/" in name:
                outer.complain(
                    "bad-path",
                    key_node,
                    f"`{clip(name)}` {fault or 'names a folder'}",
                    "Write the file's name in images/.",
                )
                continue
            inner = outer.fields_of(node, outer.path(name))
            if inner is not None:
                caption = self._text(inner, "caption", "caption") if inner.has("caption") else None
                inner.finish("caption")
                captions[name] = (caption, _place(outer, key_node))
        return captions


def _spaced(name: str) -> str:
    return name.replace("-", " ")


def _place(fields: Fields, node: Node) -> Location:
    return fields.source.at(node.line, node.column, node.length)
