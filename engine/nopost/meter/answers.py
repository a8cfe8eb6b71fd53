"""What the readings answer: findings of the knowledge base, so that a diagnosis can go on from them.

Each thing is told once: what follows from a missing standby voltage, or from a bad main voltage, is not told again.
"""

from __future__ import annotations

from collections.abc import Mapping

from nopost.knowledge.model import Finding
from nopost.meter import roles
from nopost.meter.reading import State
from nopost.meter.report import Report

STANDBY, ASKED, RAILS, GOOD, ALONE = "standby-voltage", "ps-on-signal", "main-rails", "power-good", "supply-alone"


def answers(report: Report, findings: Mapping[str, Finding]) -> dict[str, str]:
    """Finding -> answer, those that this knowledge base knows."""
    found = {STANDBY: roles.standby(report)}
    if report.alone:
        found[ALONE] = _alone(report)
    else:
        found |= {ASKED: _asked(report), RAILS: _rails(report), GOOD: _good(report)}
    if report.cell:
        found[report.cell.finding] = roles.cell_answer(report)[0]
    return {name: answer for name, answer in found.items() if name in findings and answer in findings[name].answer_ids}


def _alone(report: Report) -> str:
    """Whether a supply that is tested by itself runs; without a load its voltages say no more than that."""
    if roles.gone_after_press(report):
        asked = roles.levels(report, roles.asking(report), State.RUNNING, State.PRESSED)
        return "dead" if asked and set(asked) == {"low"} else ""
    return "runs" if set(report.board_rails) <= set(roles.main_rails(report)) and "none" not in _states(report) else ""


def _states(report: Report) -> set[str]:
    return set(roles.main_rails(report).values())


def _asked(report: Report) -> str:
    """The start signal, only where the machine does not run: there it follows from that."""
    signal, standby = roles.asking(report), roles.standby(report)
    if signal is None or standby == "none":
        return ""
    before, pressed = roles.levels(report, signal, State.STANDBY), roles.levels(report, signal, State.PRESSED)
    if roles.gone_after_press(report):
        pressed += roles.levels(report, signal, State.RUNNING)
    if before and set(before) == {"low"}:
        return "never-high" if standby else ""
    if "low" in pressed:
        return "comes-back" if pressed[-1] == "high" else "goes-low"
    return "stays-high" if pressed and set(pressed) == {"high"} else ""


def _rails(report: Report) -> str:
    """The main voltages while it runs; nothing when all are gone, for then it does not run."""
    found = roles.main_rails(report)
    if roles.standby(report) == "none" or roles.gone_after_press(report):
        return ""
    if "none" in found.values():
        return "one-missing"
    if "high" in found.values():
        return "one-high"
    if "low" in found.values():
        return "one-outside"
    whole = bool(report.board_rails) and set(report.board_rails) <= set(found)
    return "all-within" if whole and set(found.values()) == {"in-range"} else ""


def _good(report: Report) -> str:
    """The power-good signal while it runs and no main voltage is bad."""
    if (
        roles.gone_after_press(report)
        or _rails(report) in ("one-high", "one-outside", "one-missing")
        or roles.standby(report) == "none"
    ):
        return ""
    seen = set(roles.levels(report, roles.answering(report), State.RUNNING))
    if not seen or "beyond" in seen:
        return ""
    return seen.pop() if seen in ({"high"}, {"low"}) else "unsteady"
