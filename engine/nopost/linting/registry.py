"""All checks and all problem codes."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from nopost.knowledge.problem import ProblemCode
from nopost.knowledge.schema import SCHEMA_CODES
from nopost.knowledge.source_files import FOLDER_CODES
from nopost.knowledge.yaml_reader import READER_CODES
from nopost.linting import (
    check_causes,
    check_checklist,
    check_findings,
    check_hazards,
    check_limits,
    check_reach,
    check_records,
    check_references,
    check_rules,
    check_texts,
    check_unused,
)
from nopost.linting.lint_check import Check, Stage
from nopost.linting.written_exceptions import EXCEPTION_CODES

CHECKS: tuple[type[Check], ...] = (
    *check_references.CHECKS,
    *check_records.CHECKS,
    *check_findings.CHECKS,
    *check_limits.CHECKS,
    *check_rules.CHECKS,
    *check_reach.CHECKS,
    *check_causes.CHECKS,
    *check_hazards.CHECKS,
    *check_unused.CHECKS,
    *check_texts.CHECKS,
    *check_checklist.CHECKS,
)
"""Every check; several may share one code."""


def checks_of(*stages: Stage) -> tuple[type[Check], ...]:
    """The checks of these stages."""
    return tuple(check for check in CHECKS if check.stage in stages)


EXCEPTABLE_CODES = frozenset(check.code.name for check in checks_of(Stage.CLOSER))
"""Codes of problems that a written exception may take off."""
PROBLEM_CODES: Mapping[str, ProblemCode] = MappingProxyType(
    {
        code.name: code
        for code in sorted(
            {*READER_CODES, *FOLDER_CODES, *SCHEMA_CODES, *EXCEPTION_CODES, *(check.code for check in CHECKS)},
            key=lambda code: code.name,
        )
    }
)
"""Name -> code, in order of name: all that `kb check` can print."""
