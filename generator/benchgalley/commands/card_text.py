"""Adds a sample to a card file as text, so that comments, order and quoting of the rest stay as they are."""

import json

import yaml


class CannotInsertError(ValueError):
    """The file has a shape in which a sample cannot be inserted safely."""


def with_sample(text: str, sample: str, note: str, contributed: str) -> str:
    """The text of a card file with one more sample at the end of `samples`.

    Raises CannotInsertError when the result would not read as the same file with that one sample more.
    """
    entry = f"{{note: {_quoted(note)}, contributed: {_quoted(contributed)}}}"
    try:
        before = yaml.safe_load(text)
        root = yaml.compose(text, Loader=yaml.SafeLoader)
        samples = _samples(root)
        changed = (
            _in_flow(text, samples, sample, entry) if samples.flow_style else _in_block(text, samples, sample, entry)
        )
        after = yaml.safe_load(changed)
    except (yaml.YAMLError, KeyError, TypeError) as error:
        raise CannotInsertError(str(error).split("\n")[0]) from None
    # A fresh mapping, not the loaded one: an alias elsewhere in the file must not change with it.
    wanted = {**before["samples"], sample: {"note": note, "contributed": contributed}}
    if {**before, "samples": wanted} != after or list(wanted) != list(after["samples"]):
        raise CannotInsertError("`samples` is written in a way that does not let a sample be added")
    return changed


def _quoted(text: str) -> str:
    # A JSON string is a YAML string whatever stands in it.
    return json.dumps(text, ensure_ascii=False)


def _samples(root: yaml.Node | None) -> yaml.MappingNode:
    if isinstance(root, yaml.MappingNode):
        for key, value in root.value:
            if key.value == "samples" and isinstance(value, yaml.MappingNode) and value.value:
                return value
    raise CannotInsertError("there is no mapping `samples`")


def _in_flow(text: str, samples: yaml.MappingNode, sample: str, entry: str) -> str:
    end = samples.value[-1][1].end_mark.index
    return f"{text[:end]}, {sample}: {entry}{text[end:]}"


def _in_block(text: str, samples: yaml.MappingNode, sample: str, entry: str) -> str:
    newline = "\r\n" if "\r\n" in text else "\n"
    indent = " " * samples.value[-1][0].start_mark.column
    end = text.find("\n", _end(samples.value[-1][1]))
    if end < 0:
        return f"{text}{newline}{indent}{sample}: {entry}{newline}"
    return f"{text[: end + 1]}{indent}{sample}: {entry}{newline}{text[end + 1 :]}"


def _end(node: yaml.Node) -> int:
    """Where the last token of a node ends: a block mapping's own end mark lies beyond comments that follow it."""
    if isinstance(node, yaml.CollectionNode) and not node.flow_style and node.value:
        last = node.value[-1]
        return _end(last[1] if isinstance(last, tuple) else last)
    index: int = node.end_mark.index
    if isinstance(node, yaml.ScalarNode) and node.style in ("|", ">"):
        return index - 1  # a block scalar ends after its line break
    return index
