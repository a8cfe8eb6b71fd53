"""Debug LEDs in words: which of CPU, memory, graphics and boot is lit after each step; the last is what stays lit."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field

from nopost.codes.code_events import CodeEvent, CodeForm, CodeReading, EventOrder
from nopost.codes.readers.source_text import LogLine
from nopost.codes.readers.timestamps import ClockKind, highest_clock, order_events
from nopost.codes.readers.tokens import FEW_LINES, word_set

STAGES = ("cpu", "memory", "graphics", "boot")


@dataclass(slots=True)
class LampState:
    """Lamps while the words go by. `lit`: now; `ever`: at any time; `dark`: said to be off; `set_now`: changed in this step."""

    lit: set[str] = field(default_factory=set)
    ever: list[str] = field(default_factory=list)
    dark: set[str] = field(default_factory=set)
    set_now: set[str] = field(default_factory=set)
    pending: list[str] = field(default_factory=list)
    last: list[str] = field(default_factory=list)
    fresh: bool = False
    early: bool = False
    negated: bool = False
    never: bool = False
    blinks: bool = False
    turns: bool = False
    some: bool = False
    spoke: bool = False
    events: list[CodeEvent] = field(default_factory=list)
    where: LogLine = field(default_factory=lambda: LogLine(0, ""))

    def name(self, stage: str) -> None:
        """The words name the lamp of a stage; what it does comes before or after."""
        if self.pending and self.last == self.pending:
            self.pending = []
        self.pending.append(stage)
        if self.early:
            self.early = False
            self.state(True)

    def state(self, on: bool) -> None:
        """The words say that the lamps named last are on or off."""
        on, self.negated = on and not self.negated, False
        if not self.pending and not self.last:
            self.early, self.some = on, self.some or on
            return
        stages = self.pending or self.last
        if any(s in self.set_now and (s in self.lit) is not on for s in stages):
            self.step()
        if self.fresh and on and self.lit - set(stages):
            self.lit, self.turns = set(), True
        self.fresh, self.spoke = False, True
        self.lit = self.lit | set(stages) if on else self.lit - set(stages)
        self.dark |= set() if on else set(stages)
        self.set_now |= set(stages)
        self.ever += [s for s in stages if on and s not in self.ever]
        self.last, self.pending = stages, []

    def step(self, fresh: bool = False) -> None:
        """One step ends; after `then` or an arrow (`fresh`) a new lamp puts the earlier ones out."""
        if self.set_now:
            code = _code(self.lit)
            if not self.events or self.events[-1].code != code:
                self.events.append(CodeEvent(code, self.where.at, line=self.where.number))
        self.set_now = set()
        self.fresh = self.fresh or fresh


def _code(lit: set[str]) -> str:
    if not lit:
        return "none"
    return next(iter(lit)) if len(lit) == 1 else "several"


LONGEST_LINE = 1000
"""Characters of a line that a person types about lamps at most."""
_NAMES = {"cpu": "cpu", "processor": "cpu", "memory": "memory", "dram": "memory", "ram": "memory", "graphics": "graphics"}
_NAMES |= {"vga": "graphics", "gpu": "graphics", "video": "graphics", "boot": "boot"}
_ON = word_set("on lit steady solid lights glows glowing stays stuck blinking blinks blink flashing flashes flash remains")
_BLINKS = word_set("blinking blinks blink flashing flashes flash")
_OFF = word_set("off out dark unlit")
_NOT = word_set("not never no doesn isn won didn neither nor none")
_LAMP = word_set("lamp lamps led leds light lights indicator indicators")
_ALL = word_set("all every both")
_REST = word_set("others rest other")
LAMP_STEMS = ("lamp", "led", "light", "indicator")
"""One of these is in every word for a lamp."""
_SHINE = re.compile("|".join(LAMP_STEMS), re.I)
_STEP = word_set("then afterwards finally next later")
_OTHER = word_set(
    "fan fans cooler power plug cable slot slots usage card socket connector temperature post keyboard monitor mouse"
)
_PLAIN = word_set(
    "a and are at be device for goes go in is it one only they red white yellow green "
    "orange still the them turn turns up was were"
)
_VOCABULARY = frozenset(
    (
        *_NAMES,
        *_ON,
        *_OFF,
        *_NOT,
        *_LAMP,
        *_ALL,
        *_REST,
        *_STEP,
        *_PLAIN,
        "order",
        "sequence",
        "went",
        "come",
        "comes",
        "came",
        "t",
    )
)
_WORD = re.compile(r"[a-z]{1,20}|->|[→⇒➔>;]|[.](?=\s|$)")
_ARROWS = frozenset(("->", "→", "⇒", "➔", ">"))


def read_lamps(lines: Sequence[LogLine], asked: EventOrder | None = None) -> tuple[CodeReading | None, frozenset[int]]:
    """Lamps of a text, and the numbers of the lines about nothing else."""
    lamps = LampState()
    used: set[int] = set()
    clocks: set[ClockKind | None] = set()
    for line in lines:
        worth = len(line.rest) <= LONGEST_LINE and (len(lines) <= FEW_LINES or _SHINE.search(line.rest))
        words = _WORD.findall(line.rest.lower()) if worth else []
        if not _about(words, line.rest):
            continue
        if lamps.where.number and line.at is not None:
            lamps.step(fresh=True)
        lamps.where = line
        clocks.add(line.clock)
        _follow(lamps, words)
        if all(w in _VOCABULARY or not w.isalpha() for w in words):
            used.add(line.number)
    lamps.step()
    events = _final(lamps)
    if not events:
        return None, frozenset()
    clock = highest_clock(clocks)
    done = order_events(events, asked=asked if clock else None, clock=clock, certain=EventOrder.OLDEST_FIRST)
    return CodeReading(
        CodeForm.LAMPS, "stage lamps", done.events, done.order, done.given, (*_notes(lamps), *done.notes)
    ), frozenset(used)


def _about(words: Sequence[str], text: str) -> bool:
    """Whether a line tells what stage lamps do."""
    found = set(words)
    if not (found & _NAMES.keys() or found & _ALL or found & _NOT):
        return False
    lamp = bool(found & _LAMP)
    states = bool(found & (_ON | _OFF))
    if lamp:
        return states or bool(found & _NAMES.keys())
    return (
        states
        and bool(found & (_NAMES.keys() | _ALL))
        and found <= _VOCABULARY | _ARROWS | {";", "."}
        and not any(c.isdigit() for c in text)
    )


def _follow(lamps: LampState, words: Sequence[str]) -> None:
    lamps.spoke = False
    lamps.pending = []
    for i, word in enumerate(words):
        after = words[i + 1] if i + 1 < len(words) else ""
        if word in _NAMES:
            if not (word == "memory" and after == "training") and after not in _OTHER:
                lamps.name(_NAMES[word])
        elif word in _NOT:
            lamps.negated, lamps.never = True, lamps.never or word == "never"
            if word in ("no", "none") and not lamps.pending:
                lamps.pending = list(STAGES)
        elif word in _ALL:
            lamps.pending = list(lamps.last if word == "both" and len(lamps.last) == 2 else STAGES)
        elif word in _REST:
            lamps.pending = [s for s in STAGES if s not in lamps.last]
        elif word in _OFF:
            lamps.state(False)
        elif word in _ON and not _is_noun(word, after):
            lamps.blinks = lamps.blinks or word in _BLINKS
            lamps.state(True)
        elif word in _STEP or word in _ARROWS or word in (";", "."):
            _end(lamps, fresh=word not in (";", "."))
    _end(lamps, fresh=False)


def _is_noun(word: str, after: str) -> bool:
    """'lights' before another state word is the lamps' name; 'stays' and 'stuck' leave the word to what follows."""
    return word in ("lights", "stays", "remains", "stuck", "blinking", "flashing") and (
        after in _ON or after in _OFF or after in _LAMP
    )


def _end(lamps: LampState, *, fresh: bool) -> None:
    """A part of a sentence ends; names without a state lit up one after another."""
    if lamps.pending and not lamps.spoke and lamps.pending != list(STAGES) and not lamps.negated:
        for stage in lamps.pending[:]:
            lamps.pending = [stage]
            lamps.step(fresh=True)
            lamps.state(True)
        lamps.spoke = False
    lamps.pending = []
    lamps.negated = False
    if fresh:
        lamps.step(fresh=True)
        lamps.spoke = False


def _final(lamps: LampState) -> list[CodeEvent]:
    """Without the dark moments between two lamps; dark at the end after several lamps is a pass. One lamp that is off, but may
    have been on before, tells nothing of the others."""
    if not lamps.ever and not lamps.some and not lamps.never and lamps.dark < set(STAGES):
        return []
    events = [e for i, e in enumerate(lamps.events) if e.code != "none" or i == len(lamps.events) - 1]
    events = [e for i, e in enumerate(events) if i == 0 or e.code != events[i - 1].code]
    if events and events[-1].code == "none" and (lamps.some or len(lamps.ever) > 1 or "boot" in lamps.ever):
        events[-1] = CodeEvent("all-passed", events[-1].at, line=events[-1].line)
    return events


def _notes(lamps: LampState) -> tuple[str, ...]:
    notes = []
    if lamps.turns:
        notes.append("When a lamp lights after another, the other is taken to have gone out.")
    if lamps.blinks:
        notes.append("A blinking lamp counts as lit.")
    if lamps.ever and lamps.events[-1].code == "none" and len(lamps.ever) == 1 and lamps.ever != ["boot"]:
        notes.append("One lamp lit and went out and no other lit: power may have gone.")
    return tuple(notes)
