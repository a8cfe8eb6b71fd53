"""The result of a check in the Static Analysis Results Interchange Format, SARIF 2.1.0 (OASIS, 2020), which code hosts read.

Properties by the section numbers of the standard: 3.13 log, 3.14 run, 3.19 driver, 3.27 result, 3.35 suppression,
3.49 rule. Paths are relative to %SRCROOT%, the folder in which the check is run, so that the file says nothing of the
machine it was made on.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any
from urllib.parse import quote

from nopost import __version__
from nopost.knowledge.problem import Problem
from nopost.linting.runner import PROBLEM_CODES, LintResult

SARIF_SCHEMA = "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"
SARIF_ROOT = "%SRCROOT%"


def sarif_log(found: LintResult, prefix: str) -> dict[str, Any]:
    """The log, ready for JSON. `prefix`: the way from the folder of the run to the knowledge base, "" or "kb/"."""
    codes = sorted({problem.code for problem in (*found.problems, *(problem for problem, _ in found.excepted))})
    results = [_result(problem, codes, prefix) for problem in found.problems]
    for problem, reason in found.excepted:
        suppression = {"kind": "external", "status": "accepted", "justification": reason}
        results.append({**_result(problem, codes, prefix), "suppressions": [suppression]})
    return {"$schema": SARIF_SCHEMA, "version": "2.1.0", "runs": [_run(codes, results)]}


def _run(codes: Sequence[str], results: list[dict[str, Any]]) -> dict[str, Any]:
    driver = {"name": "nopost", "version": __version__, "rules": [_reporting_descriptor(code) for code in codes]}
    root = {SARIF_ROOT: {"description": {"text": "The folder in which the check was run."}}}
    return {"tool": {"driver": driver}, "originalUriBaseIds": root, "columnKind": "unicodeCodePoints", "results": results}


def _reporting_descriptor(code: str) -> dict[str, Any]:
    known = PROBLEM_CODES[code]
    return {
        "id": code,
        "shortDescription": {"text": f"{known.short}."},
        "fullDescription": {"text": known.why},
        "help": {"text": f"{known.why} {known.fix}"},
        "defaultConfiguration": {"level": known.severity.value},
    }


def _result(problem: Problem, codes: Sequence[str], prefix: str) -> dict[str, Any]:
    place: dict[str, Any] = {"artifactLocation": {"uri": quote(prefix + problem.path), "uriBaseId": SARIF_ROOT}}
    if problem.line:
        place["region"] = {"startLine": problem.line}
    text = f"{problem.message} → {problem.hint}." if problem.hint else f"{problem.message}."
    return {
        "ruleId": problem.code,
        "ruleIndex": codes.index(problem.code),
        "level": problem.severity.value,
        "message": {"text": text},
        "locations": [{"physicalLocation": place}],
    }
