"""SARIF 2.1.0: the parts of the standard that we use, written out here as a schema.

Source: OASIS, "Static Analysis Results Interchange Format (SARIF) Version 2.1.0", sections 3.13 to 3.49; from memory.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from jsonschema import Draft202012Validator

from nopost.knowledge.problem import Problem, Severity
from nopost.linting.runner import PROBLEM_CODES, LintResult, lint
from nopost.linting.sarif import sarif_log


def closed(required: dict[str, Any], **optional: Any) -> dict[str, Any]:
    """An object with these properties and no others."""
    keys = {**required, **optional}
    return {"type": "object", "required": list(required), "properties": keys, "additionalProperties": False}


TEXT = {"type": "string", "minLength": 1}
MESSAGE = closed({"text": TEXT})
LEVEL = {"enum": ["none", "note", "warning", "error"]}
ARTIFACT = closed({"uri": {"type": "string", "pattern": "^[^/\\\\ :][^\\\\ :]*$"}, "uriBaseId": {"const": "%SRCROOT%"}})
REGION = closed({"startLine": {"type": "integer", "minimum": 1}})
PLACE = closed({"artifactLocation": ARTIFACT}, region=REGION)
KIND = {"enum": ["inSource", "external"]}
STATUS = {"enum": ["accepted", "underReview", "rejected"]}
SUPPRESSION = closed({"kind": KIND}, status=STATUS, justification=TEXT)
RESULT = closed(
    {"message": MESSAGE, "ruleId": TEXT, "ruleIndex": {"type": "integer", "minimum": 0}, "level": LEVEL},
    locations={"type": "array", "minItems": 1, "items": closed({"physicalLocation": PLACE})},
    suppressions={"type": "array", "items": SUPPRESSION},
)
RULE = closed(
    {"id": TEXT},
    shortDescription=MESSAGE,
    fullDescription=MESSAGE,
    help=MESSAGE,
    defaultConfiguration=closed({}, level=LEVEL),
)
DRIVER = closed({"name": TEXT}, version=TEXT, rules={"type": "array", "uniqueItems": True, "items": RULE})
RUN = closed(
    {"tool": closed({"driver": DRIVER})},
    results={"type": "array", "items": RESULT},
    originalUriBaseIds={"type": "object", "additionalProperties": closed({}, description=MESSAGE)},
    columnKind={"enum": ["utf16CodeUnits", "unicodeCodePoints"]},
)
LOG = closed({"version": {"const": "2.1.0"}, "runs": {"type": "array", "items": RUN}}, **{"$schema": TEXT})

PROBLEMS = tuple(
    Problem(f"causes/näme {number}.yaml", number, code, "what is wrong", "" if number % 2 else "mend it", known.severity)
    for number, (code, known) in enumerate(PROBLEM_CODES.items())
)


def checked(found: LintResult, prefix: str = "") -> dict[str, Any]:
    """The log, through JSON, valid; each result points to its own rule."""
    log: dict[str, Any] = json.loads(json.dumps(sarif_log(found, prefix)))
    Draft202012Validator(LOG).validate(log)
    (run,) = log["runs"]
    rules = run["tool"]["driver"]["rules"]
    assert all(rules[result["ruleIndex"]]["id"] == result["ruleId"] for result in run["results"])
    assert {rule["id"] for rule in rules} == {result["ruleId"] for result in run["results"]}
    first: dict[str, Any] = run
    return first


def test_every_code() -> None:
    """A rule with short description and help for each code, a result for each problem; line 0 has no region."""
    run = checked(LintResult(PROBLEMS), "kb/")
    assert len(run["results"]) == len(run["tool"]["driver"]["rules"]) == len(PROBLEM_CODES)
    for problem, result in zip(PROBLEMS, run["results"], strict=True):
        place = result["locations"][0]["physicalLocation"]
        assert place["artifactLocation"]["uri"] == f"kb/causes/n%C3%A4me%20{problem.line}.yaml"
        assert place.get("region", {}).get("startLine", 0) == problem.line
        assert result["level"] == problem.severity.value
    for rule in run["tool"]["driver"]["rules"]:
        known = PROBLEM_CODES[rule["id"]]
        assert known.short in rule["shortDescription"]["text"]
        assert known.fix in rule["help"]["text"]


def test_an_excepted_problem_is_suppressed() -> None:
    """With its reason as the justification (section 3.35)."""
    problem = Problem("causes/a.yaml", 3, "long-sentence", "long", "shorter", Severity.WARNING)
    (result,) = checked(LintResult((), ((problem, "A quotation."),)))["results"]
    assert result["suppressions"] == [{"kind": "external", "status": "accepted", "justification": "A quotation."}]


def test_nothing_wrong(tidy_kb: Path) -> None:
    """A clean run has an empty list of results, which says that it ran (section 3.14.23)."""
    assert checked(lint(tidy_kb))["results"] == []
