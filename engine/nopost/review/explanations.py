"""Every problem code with its explanation: the one table that is printed, and from which SARIF rules are made."""

from __future__ import annotations

from types import MappingProxyType

from nopost.knowledge.problem import Severity
from nopost.review.explanation import Explanation, explained
from nopost.review.loader_codes import LOADER_CODES
from nopost.review.review_codes import REVIEW_CODES
from nopost.review.schema_codes import SCHEMA_CODES

EXCEPTION_CODES = explained(
    Severity.ERROR,
    (
        (
            "bad-exception",
            "An exception for a code that cannot be excepted",
            "Only what the closer look reports can be excepted; what keeps a knowledge base from loading must be mended.",
            "Correct the code, or delete the entry and mend what it is about.",
        ),
        (
            "idle-exception",
            "An exception that takes nothing off any more",
            "What it excused was mended, renamed or never there. Left standing, it would excuse the next mistake unseen.",
            "Delete the entry in exceptions.yaml, or correct the items under about.",
        ),
    ),
)
EXPLANATIONS: MappingProxyType[str, Explanation] = MappingProxyType(
    dict(sorted({**LOADER_CODES, **SCHEMA_CODES, **REVIEW_CODES, **EXCEPTION_CODES}.items()))
)
"""Code -> explanation, in order of code."""
