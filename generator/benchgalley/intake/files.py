"""Files of the content tree: which paths may be named, how much is read, how bytes become text."""

import codecs
import os
import re
from pathlib import Path

from ..records.findings import Location, Problem
from .problem_list import ProblemList, SourceText

MEBIBYTE = 1024 * 1024
TEXT_LIMIT = MEBIBYTE
"""Bytes of a YAML or Markdown file."""
TRIALS_LIMIT = 64 * MEBIBYTE
"""Bytes of trials.csv."""
IMAGE_LIMIT = 8 * MEBIBYTE
"""Bytes of one image."""

_RESERVED = re.compile(r"(?i)^(con|prn|aux|nul|com[0-9]|lpt[0-9])(\..*)?$")
UNPRINTABLE = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069\ufeff]")
"""Control characters, and those that reorder or break lines unseen; tab, LF and CR are allowed in files."""
_BYTE_ORDER_MARKS = (
    (codecs.BOM_UTF32_LE, "UTF-32"),
    (codecs.BOM_UTF32_BE, "UTF-32"),
    (codecs.BOM_UTF16_LE, "UTF-16"),
    (codecs.BOM_UTF16_BE, "UTF-16"),
)


def path_fault(text: str) -> str:
    """Why `text` is no relative path inside a folder, in a few words; empty when it is one.

    Windows device names and names ending in a dot or space are refused everywhere, so that a site
    builds on any system.
    """
    if not text:
        return "is empty"
    if text.startswith("/"):
        return "is an absolute path"
    if "\\" in text:
        return "holds a backslash"
    if re.match(r"^[A-Za-z]:", text):
        return "starts with a drive letter"
    if UNPRINTABLE.search(text) or any(c in text for c in "\t\n\r"):
        return "holds a control character"
    return next((fault for part in text.split("/") if (fault := _part_fault(part))), "")


def _part_fault(part: str) -> str:
    if part == "..":
        return "climbs out of its folder with `..`"
    if part in ("", "."):
        return "has an empty part or `.`"
    if part.startswith("."):
        return "names a hidden file"
    if part[-1] in ". ":
        return "has a part that ends in a dot or a space"
    if _RESERVED.match(part):
        return f"uses the reserved name `{part}`"
    if any(c in '<>:"|?*' for c in part):
        return 'holds one of the characters < > : " | ? *'
    return ""


def inside(path: Path, root: Path) -> bool:
    """Whether a path, symbolic links followed, stays inside `root`."""
    if path.is_relative_to(root) and not _is_led_astray(path, root):
        return True
    try:
        return path.resolve().is_relative_to(root.resolve())
    except (OSError, RuntimeError, ValueError):
        return False


def _is_led_astray(path: Path, root: Path) -> bool:
    """Whether anything on the way from the root to a file below may lead elsewhere."""
    at = str(root)
    for part in path.parts[len(root.parts) :]:
        at = os.path.join(at, part)
        if part == ".." or os.path.islink(at):
            return True
    return False


def listing(folder: Path) -> list[Path]:
    """Entries of a folder by name, hidden ones left out; empty when it cannot be listed."""
    try:
        return sorted((p for p in folder.iterdir() if not p.name.startswith(".")), key=lambda p: p.name)
    except OSError:
        return []


def read_bytes(path: Path, root: Path, limit: int, problems: ProblemList) -> bytes | None:
    """The bytes of a file, or None with a problem: missing, too large, outside the site, not a plain file."""
    file = relative(path, root)

    def refuse(rule: str, message: str, mend: str) -> None:
        problems.add(Problem(rule=rule, where=Location(file=file), message=message, mend=mend))

    if not inside(path, root):
        refuse(
            "link-leaves-site",
            "this is a symbolic link to a place outside the site",
            "Copy the file into the site.",
        )
        return None
    try:
        if not path.is_file():
            missing = not os.path.lexists(path)
            refuse(
                "missing-file" if missing else "not-a-file",
                "this file is missing" if missing else "this is not a plain file",
                "Add it." if missing else "Put a plain file in its place.",
            )
            return None
        size = path.stat().st_size
        if size > limit:
            refuse(
                "file-too-large",
                f"the file has {size / MEBIBYTE:.1f} MiB; at most {limit // MEBIBYTE} MiB are read",
                "Split it, or move sensor readings into a log.",
            )
            return None
        return path.read_bytes()
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        refuse("unreadable-file", f"the file cannot be read: {reason}", "Check its permissions.")
        return None


def relative(path: Path, root: Path) -> str:
    """Path relative to the site's root with forward slashes, as printed."""
    try:
        text = path.relative_to(root).as_posix()
    except ValueError:
        text = path.name
    return UNPRINTABLE.sub("?", text).encode("utf-8", "replace").decode("utf-8")


def decode(data: bytes, file: str, problems: ProblemList) -> SourceText | None:
    """UTF-8 text, with or without byte-order mark; None with problems when it is not that."""
    for mark, name in _BYTE_ORDER_MARKS:
        if data.startswith(mark):
            problems.add(
                Problem(
                    rule="bad-encoding",
                    where=Location(file=file),
                    message=f"the file is {name}; UTF-8 was expected",
                    mend="Save it as UTF-8.",
                )
            )
            return None
    body = data.removeprefix(codecs.BOM_UTF8)
    try:
        text = body.decode("utf-8")
    except UnicodeDecodeError as error:
        before = body[: error.start].decode("utf-8")
        line = len(re.findall(r"\r\n|\r|\n", before)) + 1
        column = len(re.split(r"\r\n|\r|\n", before)[-1]) + 1
        byte = body[error.start]
        problems.add(
            Problem(
                rule="bad-encoding",
                where=Location(file=file, line=line, column=column, end_column=column + 1),
                message=f"the byte 0x{byte:02X} is not UTF-8 here",
                mend="Save the file as UTF-8.",
            )
        )
        return None
    source = SourceText(file, text)
    if UNPRINTABLE.search(text) is None:
        return source
    for number, line_text in enumerate(source.lines, 1):
        if found := UNPRINTABLE.search(line_text):
            problems.add(
                Problem(
                    rule="control-character",
                    where=source.at(number, found.start() + 1),
                    message=f"the invisible character U+{ord(found.group()):04X} stands here",
                    mend="Delete it.",
                )
            )
    return None


def read_text(path: Path, root: Path, limit: int, problems: ProblemList) -> tuple[bytes, SourceText] | None:
    """Bytes and text of a file, or None with problems."""
    data = read_bytes(path, root, limit, problems)
    if data is None:
        return None
    source = decode(data, relative(path, root), problems)
    return None if source is None else (data, source)
