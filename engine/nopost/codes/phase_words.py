"""Phases, stages and times in the few words and letters that a drawing or a terminal line has room for."""

from __future__ import annotations

SEVERAL = "several"
"""The phase of a piece of a drawing that stands for codes of more than one."""

_PHASES = {
    "sec": ("S", "first steps", "first steps after reset (SEC)"),
    "pei": ("P", "before memory", "before memory works (PEI)"),
    "memory": ("M", "memory", "memory is found and started"),
    "late-pei": ("L", "after memory", "after memory, still early (PEI)"),
    "dxe": ("D", "devices", "devices and drivers (DXE)"),
    "bds": ("B", "boot choice", "picture, keyboard, choice of what to start (BDS)"),
    "hand-over": ("H", "hand-over", "hand-over to the system"),
    "runtime": ("R", "system runs", "the system runs"),
    "recovery": ("V", "recovery", "recovery of the firmware"),
    "resume": ("W", "waking", "waking from sleep (S3)"),
    "any": ("A", "any phase", "a code of any phase"),
    SEVERAL: ("+", "several", "several phases, drawn as one"),
    "": ("?", "unknown", "not in the table"),
}
LONGEST = 40
"""Characters of a code in a sentence."""
PHASE_NAMES = tuple(_PHASES)
"""Every phase that a piece of a drawing can have, in the order of the legend."""

_STAGES = {
    "no-code": "no code",
    "cpu": "start of the CPU",
    "memory": "memory",
    "graphics": "graphics",
    "devices": "devices",
    "boot-device": "boot device",
    "handed-over": "hand-over",
}


def letter(phase: str) -> str:
    """One letter."""
    return _PHASES.get(phase, _PHASES[""])[0]


def short_name(phase: str) -> str:
    """One or two words."""
    return _PHASES.get(phase, _PHASES[""])[1]


def full_name(phase: str) -> str:
    """For a legend."""
    return _PHASES.get(phase, _PHASES[""])[2]


def stage_name(stage: str) -> str:
    """A stage that did not pass."""
    return _STAGES.get(stage, stage)


def duration(seconds: float) -> str:
    """How long, to two digits or so."""
    if seconds < 0.0005:
        return "0 s"
    if seconds < 1:
        return f"{round(seconds * 1000)} ms" if seconds < 0.0995 else f"{seconds:.2g} s"
    if seconds < 59.95:
        return f"{seconds:.1f}".removesuffix(".0") + " s" if seconds < 9.95 else f"{seconds:.0f} s"
    if seconds < 7170:
        minutes, rest = divmod(round(seconds), 60)
        return f"{minutes} min {rest} s" if rest and minutes < 10 else f"{round(seconds / 60)} min"
    return f"{seconds / 3600:.1f} h" if seconds < 172_800 else f"{seconds / 86_400:.0f} days"


def counted(number: int, one: str, many: str = "") -> str:
    """A number with its noun."""
    return f"{number:,} {one if number == 1 else many or one + 's'}"


def short_code(code: str) -> str:
    """A code that fits into a sentence."""
    return code if len(code) <= LONGEST else code[: LONGEST - 1] + "…"
