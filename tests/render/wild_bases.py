"""Random knowledge bases with texts that are hard to print: long words, markup, foreign letters, controls, nothing at all."""

from __future__ import annotations

import random
from collections.abc import Mapping
from dataclasses import replace

import small
from nopost.knowledge import model as m

CHUNKS = (
    "memory", "a", "power supply", "it starts", "W" * 90, "i" * 200, "<b>&amp;</b>", "\"'", "]]>", "\x00\x07\x1b[31m",
    "Ж ёж", "漢字",
    "\u202eabc", "e\u0301", "👩‍🔧", "ﬃ", "…", "–", "naïve", "\ud800", "\t\n", "1-3-1", "100 %", "עברית", "łódź",
)  # fmt: skip


class Wild:
    """Makes a base from a seed."""

    def __init__(self, seed: int) -> None:
        self.chance = random.Random(seed)

    def text(self, most: int = 8, least: int = 1) -> str:
        """Up to so many chunks."""
        return " ".join(self.chance.choices(CHUNKS, k=self.chance.randint(least, most)))

    def base(self) -> m.Knowledge:
        """Causes, findings, fixes and hazards in numbers and lengths that strain a page."""
        hazards = {
            name: m.Hazard(name, self.text(), self.text(60), stop=self.chance.random() < 0.2) for name in self.ids("h", 9, 0)
        }
        actions = [self.action(name, list(hazards)) for name in self.ids("x", 7)]
        findings = [self.finding(name, list(hazards)) for name in self.ids("f", 9)]
        causes = [self.cause(name, findings, [a.id for a in actions], list(hazards)) for name in self.ids("c", 14)]
        parts = {"part": self.text(), "other": self.text(3)}
        opening = tuple(f.id for f in findings[:2])
        tools = {"tool": m.Tool(self.text(), m.Effort(1.0))}
        own = replace(small.base(), parts=parts, opening=opening, tools=tools, name=self.text(), edition=self.text(3))
        own = replace(own, shop=replace(own.shop, title=self.text()))
        return replace(small.knowledge(findings, causes, actions, self.rules(findings, list(hazards)), own), hazards=hazards)

    def ids(self, stem: str, most: int, least: int = 1) -> list[str]:
        """Some ids."""
        return [f"{stem}{k}" for k in range(self.chance.randint(least, most))]

    def some(self, names: list[str], most: int = 9) -> tuple[str, ...]:
        """Some of these."""
        return tuple(self.chance.sample(names, self.chance.randint(0, min(most, len(names)))))

    def action(self, name: str, hazards: list[str]) -> m.Action:
        """A fix with up to a dozen steps."""
        steps = tuple(self.text(20, 0) for _ in range(self.chance.randint(1, 12)))
        made = small.fix(name, self.chance.choice([1.0, 5.0, 60.0]))
        return replace(made, title=self.text(), steps=steps, hazards=self.some(hazards), needs=self.some(["tool"]))

    def distribution(self, answers: list[str]) -> Mapping[str, float]:
        """Probabilities of these answers."""
        weights = [self.chance.random() ** 3 + 1e-3 for _ in answers]
        return {answer: weight / sum(weights) for answer, weight in zip(answers, weights, strict=True)}

    def finding(self, name: str, hazards: list[str]) -> m.Finding:
        """A question with up to 15 answers, or now and then 40."""
        count = 40 if self.chance.random() < 0.05 else self.chance.randint(2, 15)
        answers = [f"{name}-{k}" for k in range(count)]
        made = small.finding(name, self.distribution(answers), self.chance.choice([m.Combine.EITHER, m.Combine.HISTORY]))
        texts = tuple(m.Answer(answer, self.text(6)) for answer in answers)
        return replace(made, title=self.text(), question=self.text(12), answers=texts, hazards=self.some(hazards, 4))

    def cause(self, name: str, findings: list[m.Finding], actions: list[str], hazards: list[str]) -> m.Cause:
        """A cause that names some findings and fixes."""
        named = [f for f in findings if self.chance.random() < 0.7]
        shows = {f.id: self.distribution(list(f.answer_ids)) for f in named}
        fixes = {action: self.chance.random() for action in self.some(actions)}
        made = small.cause(name, self.chance.choice([0.5, 10.0, 70.0]), shows, fixes)
        made = replace(made, part=self.chance.choice(["part", "other"]), hazards=self.some(hazards), title=self.text(12))
        return replace(made, explanation=self.text(80, 0), proof=self.text(30, 0), source={"weight": self.text(9)})

    def rules(self, findings: list[m.Finding], hazards: list[str]) -> list[m.Rule]:
        """One rule that raises a hazard, when there is one."""
        if not hazards:
            return []
        when = m.Conditions(all=(m.Condition(False, findings[0].id, (findings[0].answer_ids[-1],)),))
        return [m.Rule("warns", "warns", when, (m.Consequence(m.Effect.CAUTION, hazards[0]),))]
