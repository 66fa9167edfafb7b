"""The downloadable dataset of a write-up: what it was made from, what came out, and descriptions for programs.

Unpacked anywhere, `benchgalley check` on it passes and `benchgalley numbers` prints the same numbers.
"""

import io
import zipfile
from collections.abc import Mapping
from pathlib import Path

from benchgalley.records.address import Address
from benchgalley.records.write_up import WriteUp

from . import descriptors
from .columns import Table, results_table, trials_table
from .edition import Edition

_STORE_BELOW = 8_000_000
"""Bytes. Smaller datasets are stored uncompressed: their bytes then do not depend on the compression library."""


def dataset(edition: Edition, write_up: WriteUp) -> bytes:
    """The zip of one write-up: same input, same bytes."""
    key = f"dataset {write_up.slug}"
    if key not in edition.kept:
        edition.kept[key] = _zipped(dataset_files(edition, write_up))
    archive: bytes = edition.kept[key]
    return archive


def tables(edition: Edition, write_up: WriteUp) -> tuple[Table, ...]:
    """The tables of the dataset that carry a description."""
    key = f"tables {write_up.slug}"
    if key not in edition.kept:
        edition.kept[key] = (trials_table(write_up), results_table(edition.numbers(write_up.slug)))
    made: tuple[Table, ...] = edition.kept[key]
    return made


def table_files(edition: Edition, write_up: WriteUp) -> dict[str, bytes]:
    """Name of a table → the table as a file."""
    key = f"table files {write_up.slug}"
    if key not in edition.kept:
        edition.kept[key] = {table.name: table.as_csv() for table in tables(edition, write_up)}
    files: dict[str, bytes] = edition.kept[key]
    return files


def dataset_files(edition: Edition, write_up: WriteUp) -> dict[str, bytes]:
    """Path in the archive → bytes."""
    key = f"dataset files {write_up.slug}"
    if key not in edition.kept:
        edition.kept[key] = _described(edition, write_up)
    files: dict[str, bytes] = edition.kept[key]
    return files


def _described(edition: Edition, write_up: WriteUp) -> dict[str, bytes]:
    settings, warnings = edition.site.settings, edition.cautions(write_up.slug)
    files = content_files(edition, write_up)
    made = tables(edition, write_up)
    files |= {f"{name}.csv": content for name, content in table_files(edition, write_up).items()}
    package = descriptors.data_package(write_up, settings, made, files)
    for table in made:
        files[f"{table.name}.csv-metadata.json"] = descriptors.as_json(descriptors.csvw(table, settings.language))
    files["datapackage.json"] = descriptors.as_json(package)
    files["CITATION.cff"] = descriptors.citation(write_up, settings)
    files["README.txt"] = descriptors.read_me(write_up, settings, warnings.caveats, warnings.hazards)
    files["SHA256SUMS"] = descriptors.checksums(files)
    return files


def content_files(edition: Edition, write_up: WriteUp) -> dict[str, bytes]:
    """The part of the content tree the write-up's claims rest on, path relative to the site's root → bytes."""
    site = edition.site
    taken = [site.write_ups[slug] for slug in sorted(write_ups_needed(edition, write_up.slug))]
    used = {"content/site.yaml"}
    for each in taken:
        used |= {each.card.where.file, each.bench.where.file, each.load.where.file}
    files = {path: site.files[path] for path in sorted(used)}
    for each in taken:
        files |= {f"{each.folder}/{path}": c for path, c in _folder(each, Path(site.root)).items()}
    return files


def write_ups_needed(edition: Edition, slug: str) -> set[str]:
    """The write-up with every other one its prose refers to, and theirs; a card stands for all its write-ups."""
    needed, waiting = set[str](), {slug, *_named_by_the_site(edition)}
    while waiting:
        scope = waiting.pop()
        if scope in edition.site.cards:
            waiting |= {w.slug for w in edition.write_ups_of(scope)} - needed
        elif scope in edition.site.write_ups:
            needed.add(scope)
            waiting |= {c.address.scope for c in edition.claims(scope) if c.address} - needed
    return needed


def _named_by_the_site(edition: Edition) -> set[str]:
    """Scopes the site's own title and summary refer to: `check` judges them too."""
    texts = (edition.site.settings.title, edition.site.settings.summary)
    found = (Address.parse(link.destination.removeprefix("claim:"), "") for text in texts for link in text.links)
    return {address.scope for address in found if address is not None and address.scope}


def _folder(write_up: WriteUp, root: Path) -> dict[str, bytes]:
    """Every file of the folder that something reads. Logs stay on disk until here: one may be long."""
    logs = sorted({trial.log for trial in write_up.trials if trial.log})
    return {**write_up.files, **{log: (root / write_up.folder / log).read_bytes() for log in logs}}


def _zipped(files: Mapping[str, bytes]) -> bytes:
    small = sum(len(content) for content in files.values()) < _STORE_BELOW
    method = zipfile.ZIP_STORED if small else zipfile.ZIP_DEFLATED
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as archive:
        for path in sorted(files):
            entry = zipfile.ZipInfo(path, date_time=(1980, 1, 1, 0, 0, 0))
            entry.compress_type, entry.create_system = method, 3
            entry.external_attr = 0o644 << 16
            archive.writestr(entry, files[path])
    return buffer.getvalue()
