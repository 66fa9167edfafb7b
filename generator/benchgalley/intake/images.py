"""Images of a write-up: plain raster files only, each one used, each use with an alternative text."""

from collections.abc import Mapping
from pathlib import Path

from ..records.findings import Location, Problem, Severity
from .files import IMAGE_LIMIT, listing, path_fault, read_bytes, relative
from .front_matter import FrontMatter
from .problem_list import ProblemList, clip, offer
from .prose import ImageUse

_SIGNATURES = {
    ".png": (b"\x89PNG\r\n\x1a\n",),
    ".jpg": (b"\xff\xd8\xff",),
    ".jpeg": (b"\xff\xd8\xff",),
    ".webp": (b"RIFF",),
    ".gif": (b"GIF87a", b"GIF89a"),
}


def read_images(folder: Path, root: Path, problems: ProblemList) -> dict[str, bytes]:
    """Name → bytes of every file in `folder`/images."""
    found: dict[str, bytes] = {}
    for path in listing(folder / "images"):
        where = Location(file=relative(path, root))
        signatures = _SIGNATURES.get(path.suffix.lower())
        if fault := path_fault(path.name):
            problems.add(Problem(rule="bad-path", where=where, message=f"the name {fault}", mend="Rename the file."))
        elif signatures is None:
            problems.add(
                Problem(
                    rule="bad-image",
                    where=where,
                    message="this is no PNG, JPEG, WebP or GIF image by its name",
                    mend="Save it as PNG.",
                )
            )
        elif (data := read_bytes(path, root, IMAGE_LIMIT, problems)) is not None:
            if data.startswith(signatures):
                found[path.name] = data
            else:
                problems.add(
                    Problem(
                        rule="bad-image",
                        where=where,
                        message=f"the file is not the {path.suffix.lower()[1:]} image its name says",
                        mend="Save it again, or correct its name.",
                    )
                )
    return found


def check_uses(
    front: FrontMatter,
    images: Mapping[str, bytes],
    uses: list[ImageUse],
    folder: Path,
    root: Path,
    problems: ProblemList,
) -> None:
    """Every image placed in the prose exists; every image there is, is placed."""
    source = front.source
    used: set[str] = set()
    for use in uses:
        if ":" in use.destination:  # a chart, or told already
            continue
        directory, _, name = use.destination.rpartition("/")
        if directory == "images" and name in images:
            used.add(name)
            continue
        problems.add(
            source.problem(
                "unknown-image",
                use.line,
                use.column,
                f"`{clip(use.destination)}` is no image of this write-up",
                offer(use.destination, [f"images/{n}" for n in images], "Images") or "Put it into images/.",
                length=use.length,
            )
        )
    for name, (_, where) in front.captions.items():
        if name not in images:
            problems.add(
                Problem(
                    rule="unknown-image",
                    where=where,
                    message=f"`images` names `{clip(name)}`, which is not in images/",
                    mend=offer(name, images, "Images"),
                    source_line=source.line(where.line),
                )
            )
    for name in images:
        if name not in used:
            problems.add(
                Problem(
                    rule="unused-image",
                    where=Location(file=relative(folder / "images" / name, root)),
                    message="no text shows this image",
                    mend=f"Place it with ![what it shows](images/{name}), or remove it.",
                    severity=Severity.WARNING,
                )
            )
