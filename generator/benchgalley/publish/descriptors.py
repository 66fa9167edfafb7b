"""Descriptions of a dataset for programs: Data Package 2.0, CSV on the Web, CITATION.cff 1.2.0, schema.org.

All are made from `columns`; sources and clauses stand beside the functions.
"""

import hashlib
import json
import re
import uuid
from collections.abc import Iterable, Mapping
from typing import Any

import orjson

from benchgalley.records.findings import Caveat, Hazard
from benchgalley.records.site import SiteSettings
from benchgalley.records.write_up import WriteUp

from . import page_paths
from .columns import Column, Table
from .edition import last_changed

_MEDIA_TYPES = {
    ".csv": "text/csv", ".json": "application/json", ".md": "text/markdown", ".yaml": "application/yaml",
    ".png": "image/png", ".jpg": "image/jpeg", ".jpeg": "image/jpeg", ".webp": "image/webp", ".txt": "text/plain",
    ".cff": "application/yaml", ".zip": "application/zip",
}  # fmt: skip
_CSVW_KINDS: dict[str, Any] = {
    "string": "string", "number": "number", "integer": "integer", "boolean": "boolean", "datetime": "dateTime",
}  # fmt: skip


def as_json(value: Any) -> bytes:
    """A descriptor as a file."""
    return orjson.dumps(value, option=orjson.OPT_INDENT_2 | orjson.OPT_APPEND_NEWLINE)


def sha256(content: bytes) -> str:
    """Lower-case hex digest."""
    return hashlib.sha256(content).hexdigest()


def media_type(path: str) -> str:
    """IANA media type by the ending of a file's name."""
    return _MEDIA_TYPES.get("." + path.rpartition(".")[2].lower(), "application/octet-stream")


def description(write_up: WriteUp, settings: SiteSettings) -> str:
    """What the dataset is, in sentences, for every descriptor."""
    w = write_up
    parts = [
        f"{w.summary.text.rstrip('.')}.",
        f"{len(w.trials)} runs of {w.load.name} {w.load.version} ({w.load.preset}) on {w.card.maker} {w.card.model}, "
        f"sample {w.sample.id}, on the bench {w.bench.name}.",
        "The data are invented." if w.invented else "",
        settings.notice,
    ]
    return " ".join(part for part in parts if part)


def data_package(
    write_up: WriteUp, settings: SiteSettings, tables: Iterable[Table], files: Mapping[str, bytes]
) -> dict[str, Any]:
    """`datapackage.json` (Data Package 2.0; the units are further properties, for which it has none of its own)."""
    by_path = {f"{table.name}.csv": table for table in tables}
    return {
        "$schema": "https://datapackage.org/profiles/2.0/datapackage.json",
        "name": write_up.slug,
        "id": identifier(write_up, settings),
        "title": write_up.title.text,
        "description": description(write_up, settings),
        "version": last_changed(write_up),
        "created": f"{last_changed(write_up)}T00:00:00Z",
        "licenses": [licence(settings.data_licence)],
        "contributors": [{"title": settings.author, "roles": ["author"]}],
        "resources": [_resource(path, files[path], by_path.get(path)) for path in sorted(files) if _is_data(path)],
    }


def csvw(table: Table, language: str) -> dict[str, Any]:
    """`NAME.csv-metadata.json` (W3C Metadata Vocabulary for Tabular Data 5.3 to 5.6)."""
    return {
        "@context": ["http://www.w3.org/ns/csvw", {"@language": language}],
        "url": f"{table.name}.csv",
        "dc:title": table.title,
        "dc:description": table.description,
        "tableSchema": {
            "columns": [
                {
                    "name": column.name,
                    "titles": column.name,
                    "dc:title": column.title,
                    "dc:description": column.description,
                    "datatype": _CSVW_KINDS[column.kind],
                    "required": column.required,
                    **({"http://qudt.org/schema/qudt/ucumCode": column.ucum} if column.ucum else {}),
                }
                for column in table.columns
            ],
            "primaryKey": table.key,
        },
    }


def citation(write_up: WriteUp, settings: SiteSettings) -> bytes:
    """`CITATION.cff` 1.2.0. Every value is quoted: YAML would read a date or a version as something else."""
    lines = [
        ("cff-version", "1.2.0"),
        ("message", "Please cite this dataset with the date of the printing you used."),
        ("type", "dataset"),
        ("title", write_up.title.text),
        ("abstract", description(write_up, settings)),
        ("version", last_changed(write_up)),
        ("date-released", last_changed(write_up)),
    ]
    if re.fullmatch(r"[A-Za-z0-9.+-]+", settings.data_licence):
        lines.append(("license", settings.data_licence))
    if settings.address:
        lines.append(("url", settings.address + page_paths.public(page_paths.write_up(write_up.slug))))
    text = "".join(f"{key}: {json.dumps(value, ensure_ascii=False)}\n" for key, value in lines)
    return f"{text}authors:\n  - name: {json.dumps(settings.author, ensure_ascii=False)}\n".encode()


def checksums(files: Mapping[str, bytes]) -> bytes:
    """`SHA256SUMS`: digest, two spaces, path; sorted; not listing itself."""
    return "".join(f"{sha256(content)}  {path}\n" for path, content in sorted(files.items())).encode()


def read_me(write_up: WriteUp, settings: SiteSettings, caveats: Iterable[Caveat], hazards: Iterable[Hazard]) -> bytes:
    """`README.txt` of the dataset: hazards first, then what is in it, how to check it and what limits it."""
    blocks = [write_up.title.text, description(write_up, settings)]
    blocks += [f"{h.word.value}: {h.source} {h.consequence} {h.avoidance}" for h in hazards]
    blocks += [
        "How to check it: with benchgalley installed, run `benchgalley check .` in this folder. It recomputes every\n"
        "number from content/ and judges every claim of the write-up against them.",
        "trials.csv    every run in canonical columns and units\n"
        "results.csv   every number by address, with its interval\n"
        "content/      the files the write-up was made from, unchanged\n"
        "datapackage.json, *.csv-metadata.json, CITATION.cff, SHA256SUMS   descriptions for programs",
        "An empty cell means absent, never zero. A text that would start a formula in a spreadsheet has a leading '\n"
        "in trials.csv and results.csv; content/ holds it as it was.",
        "Limits of these data:",
        *(f"- {c.title}. {c.missing} {c.effect} {c.remedy}" for c in caveats),
        f"Licence of the data: {settings.data_licence}. Author: {settings.author}.",
    ]
    return ("\n\n".join(blocks) + "\n").encode("utf-8")


def json_ld(
    write_up: WriteUp, settings: SiteSettings, tables: Iterable[Table], downloads: Mapping[str, bytes]
) -> dict[str, Any]:
    """schema.org `Dataset` for the page of a write-up. `downloads`: path in the site → bytes."""
    columns = [c for table in tables if table.name == "trials" for c in table.columns if c.kind == "number"]
    title = write_up.title.text
    return {
        "@context": "https://schema.org",
        "@type": "Dataset",
        "@id": identifier(write_up, settings),
        "name": title if len(title) <= 110 else title[:109].rstrip() + "…",
        "description": description(write_up, settings).ljust(50, ".")[:5000],
        "url": settings.address + page_paths.public(page_paths.write_up(write_up.slug)),
        "license": f"https://spdx.org/licenses/{settings.data_licence}.html",
        "creator": {"@type": "Person", "name": settings.author},
        "datePublished": write_up.published,
        "dateModified": last_changed(write_up),
        "version": last_changed(write_up),
        "isAccessibleForFree": True,
        "inLanguage": settings.language,
        "distribution": [
            {
                "@type": "DataDownload",
                "name": path.rpartition("/")[2],
                "contentUrl": settings.address + path,
                "encodingFormat": media_type(path),
                "contentSize": f"{len(content)} B",
                "sha256": sha256(content),
            }
            for path, content in sorted(downloads.items())
        ],
        "variableMeasured": [_variable(column) for column in columns],
        "measurementTechnique": [
            f"{i.name}, at: {i.measures_at.value}" for i in write_up.bench.instruments
        ] or ["Not recorded"],
    }  # fmt: skip


def licence(expression: str) -> dict[str, str]:
    """A licence for a Data Package: `name` takes the SPDX id, `path` where its text stands."""
    if re.fullmatch(r"[A-Za-z0-9.+-]+", expression):
        return {"name": expression, "path": f"https://spdx.org/licenses/{expression}.html"}
    return {"path": "https://spdx.org/licenses/", "title": expression}


def identifier(write_up: WriteUp, settings: SiteSettings) -> str:
    """Permanent: the page's address, or without one a UUID (RFC 9562, version 5) of author and slug."""
    if settings.address:
        return settings.address + page_paths.public(page_paths.write_up(write_up.slug))
    return uuid.uuid5(uuid.NAMESPACE_URL, f"benchgalley:{settings.author}:{write_up.slug}").urn


def _is_data(path: str) -> bool:
    return path.endswith(".csv")


def _resource(path: str, content: bytes, table: Table | None) -> dict[str, Any]:
    resource: dict[str, Any] = {
        "name": re.sub(r"[^a-z0-9._-]+", "-", path.removesuffix(".csv").lower()),
        "path": path,
        "format": "csv",
        "mediatype": media_type(path),
        "bytes": len(content),
        "hash": f"sha256:{sha256(content)}",
    }
    if table is None:
        return {**resource, "description": "As the tester kept it; see content/ for its columns."}
    return {
        **resource,
        "title": table.title,
        "description": table.description,
        "encoding": "utf-8",
        "dialect": {
            "delimiter": ",",
            "lineTerminator": "\n",
            "quoteChar": '"',
            "doubleQuote": True,
            "header": True,
        },
        "schema": {
            "fields": [_field(column) for column in table.columns],
            "missingValues": [""],
            "primaryKey": [table.key],
        },
    }


def _field(column: Column) -> dict[str, Any]:
    constraints = {
        **({"required": True} if column.required else {}),
        **({"enum": list(column.choices)} if column.choices else {}),
    }
    return {
        "name": column.name,
        "title": column.title,
        "description": column.description,
        "type": column.kind,
        **({"unit": column.printed_unit, "unitCode": column.ucum} if column.ucum else {}),
        **({"constraints": constraints} if constraints else {}),
    }


def _variable(column: Column) -> dict[str, str]:
    return {
        "@type": "PropertyValue",
        "name": column.name,
        "description": f"{column.title}. {column.description}",
        "unitText": column.printed_unit,
        "unitCode": f"UCUM:{column.ucum}",
    }
