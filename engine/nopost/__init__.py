"""nopost: find why a machine does not start, in as few, cheap and safe steps as can be.

The public interface is `__all__`; everything else may change.

>>> import nopost
>>> knowledge = nopost.load()
>>> history = nopost.History().add(nopost.EventKind.ANSWER, "response", "nothing")
>>> found = nopost.diagnose(knowledge, history)
>>> len(found.ranking) == len(knowledge.causes)
True
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

__version__ = "0.1.0"

if TYPE_CHECKING:
    from nopost.diagnosis.diagnose import Diagnosis, diagnose
    from nopost.diagnosis.history import Event, EventKind, History, Parts
    from nopost.diagnosis.parts_facts import with_records
    from nopost.diagnosis.step_view import StepView, view_step
    from nopost.errors import (
        DumpError,
        ImageError,
        KnowledgeError,
        NopostError,
        OutputError,
        ReadingError,
        RecordError,
        ScoreError,
        SessionError,
        UnknownNameError,
    )
    from nopost.interface import decode, lint, load, plan_firmware
    from nopost.knowledge.model import Knowledge

_HOME = {
    "diagnosis.diagnose": ("Diagnosis", "diagnose"),
    "diagnosis.history": ("Event", "EventKind", "History", "Parts"),
    "diagnosis.parts_facts": ("with_records",),
    "diagnosis.step_view": ("StepView", "view_step"),
    "errors": (
        "DumpError",
        "ImageError",
        "KnowledgeError",
        "NopostError",
        "OutputError",
        "ReadingError",
        "RecordError",
        "ScoreError",
        "SessionError",
        "UnknownNameError",
    ),
    "interface": ("decode", "lint", "load", "plan_firmware"),
    "knowledge.model": ("Knowledge",),
}
"""Module -> the public names in it. They are imported when they are asked for, so that every command starts quickly."""
_MODULE_OF = {name: module for module, names in _HOME.items() for name in names}

__all__ = [
    "Diagnosis",
    "DumpError",
    "Event",
    "EventKind",
    "History",
    "ImageError",
    "Knowledge",
    "KnowledgeError",
    "NopostError",
    "OutputError",
    "Parts",
    "ReadingError",
    "RecordError",
    "ScoreError",
    "SessionError",
    "StepView",
    "UnknownNameError",
    "__version__",
    "decode",
    "diagnose",
    "lint",
    "load",
    "plan_firmware",
    "view_step",
    "with_records",
]


def __getattr__(name: str) -> Any:
    """A public name, from its module."""
    if name not in _MODULE_OF:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(importlib.import_module(f"{__name__}.{_MODULE_OF[name]}"), name)


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
