"""Problems for code hosts: Static Analysis Results Interchange Format (SARIF) 2.1.0."""

import hashlib
import json
from collections.abc import Sequence
from typing import Any
from urllib.parse import quote

from benchgalley import __version__
from benchgalley.records.findings import Problem, Severity

SCHEMA = "https://json.schemastore.org/sarif-2.1.0.json"

_RULES = {
    "disagrees": "A stated number is not the one the trials give.",
    "unsupported": "The figure is right, but the data do not carry the word or the digits.",
    "unjudged": "There are no data at the address a claim names.",
    "unbound-number": "A number is bound to no address, so nothing checks it.",
    "unbound-word": "A comparative word of the trade is bound to no address.",
    "inconsistent": "Two statements of one number differ, or a chain of figures does not hold.",
    "percentage-without-base": "A percentage does not say of what.",
    "unused-acceptance": "A word is accepted with a reason that no claim needs.",
    "changed-without-revision": "A published number changed and no dated revision says so.",
}


def as_sarif(problems: Sequence[Problem]) -> str:
    """One run with one result a problem; the same problems give the same bytes."""
    rules = sorted({p.rule for p in problems})
    run = {
        "tool": {
            "driver": {
                "name": "benchgalley",
                "version": __version__,
                "rules": [{"id": rule, "shortDescription": {"text": _describe(rule)}} for rule in rules],
            }
        },
        "columnKind": "unicodeCodePoints",
        "originalUriBaseIds": {"SITE": {"description": {"text": "The folder that holds content/."}}},
        "results": _results(problems, rules),
    }
    return json.dumps({"$schema": SCHEMA, "version": "2.1.0", "runs": [run]}, ensure_ascii=False, indent=1)


def _describe(rule: str) -> str:
    return _RULES.get(rule, rule.replace("-", " ").capitalize() + ".")


def _results(problems: Sequence[Problem], rules: list[str]) -> list[dict[str, Any]]:
    seen: dict[str, int] = {}
    results = []
    for problem in problems:
        # Equal findings in one file are told apart by their ordinal, not by their line, which edits move.
        identity = "|".join(
            (problem.rule, problem.where.file, problem.address, problem.stated, problem.source_line.strip())
        )
        seen[identity] = seen.get(identity, 0) + 1
        digest = hashlib.sha256(f"{identity}|{seen[identity]}".encode()).hexdigest()
        results.append(
            {
                "ruleId": problem.rule,
                "ruleIndex": rules.index(problem.rule),
                "level": "error" if problem.severity is Severity.ERROR else "warning",
                "message": {"text": " ".join(part for part in (problem.message, problem.mend) if part)},
                "locations": [{"physicalLocation": _location(problem)}],
                "partialFingerprints": {"claim/v1": digest},
                "properties": {
                    "address": problem.address,
                    "stated": problem.stated,
                    "computed": problem.computed,
                },
            }
        )
    return results


def _location(problem: Problem) -> dict[str, Any]:
    where = problem.where
    end_line = where.end_line or where.line
    region: dict[str, Any] = {"startLine": where.line, "startColumn": where.column, "endLine": end_line}
    region["endColumn"] = where.end_column or where.column + 1
    if end_line == where.line and problem.source_line:
        snippet = problem.source_line[where.column - 1 : region["endColumn"] - 1]
        if snippet:
            region["snippet"] = {"text": snippet}
    return {"artifactLocation": {"uri": quote(where.file), "uriBaseId": "SITE"}, "region": region}
