"""What the program has to find in a knowledge base by its role: the findings that it answers by itself from codes and meter
readings, the cautions of work that it proposes by itself, and the tools that a firmware route needs.

The roles stand in base.yaml, so that no id of an item stands in the program. `model` names them too. A role that is left out
leaves out what the program would do with it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any


class FindingRole(StrEnum):
    """The roles of findings. The schema of the base says what the program can see for each."""

    CODES_STAGE = "codes-stage"
    CODES_OUTCOME = "codes-outcome"
    CODES_ERROR = "codes-error"
    METER_STANDBY = "meter-standby"
    METER_START_SIGNAL = "meter-start-signal"
    METER_MAIN_RAILS = "meter-main-rails"
    METER_POWER_GOOD = "meter-power-good"
    METER_SUPPLY_ALONE = "meter-supply-alone"


FROM_CODES = (FindingRole.CODES_STAGE, FindingRole.CODES_OUTCOME, FindingRole.CODES_ERROR)
"""Roles of the findings that `nopost.codes.decode` answers; they need no question."""
MEASURING, MEASURING_CELL = "measuring", "measuring-cell"
"""Roles of the hazards of work with a meter; each way of a firmware route is a role of hazards too."""


@dataclass(frozen=True, slots=True)
class AnsweredFinding:
    """A finding that the program answers. `answers`: what it saw -> the finding's answer; what is left out is not answered."""

    finding: str
    answers: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Roles:
    """Role -> finding, hazards or tool; what the knowledge base does not have is not there."""

    findings: Mapping[str, AnsweredFinding] = field(default_factory=dict)
    hazards: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    tools: Mapping[str, str] = field(default_factory=dict)

    def answers(self, seen: Mapping[FindingRole, str]) -> dict[str, str]:
        """Finding -> answer.

        Args:
            seen: role -> what was seen, in the words of the schema; empty when nothing was.

        Returns:
            The answers in the order of `seen`, without what this knowledge base has no finding or no answer for.
        """
        found = ((self.findings[role], what) for role, what in seen.items() if role in self.findings)
        return {role.finding: role.answers[what] for role, what in found if what in role.answers}


def build_roles(data: Mapping[str, Any]) -> Roles:
    """The roles, from data that passed the schema of the base."""
    return Roles(
        findings={role: AnsweredFinding(each["finding"], each["answers"]) for role, each in data.get("findings", {}).items()},
        hazards={role: tuple(names) for role, names in data.get("hazards", {}).items()},
        tools=data.get("tools", {}),
    )
