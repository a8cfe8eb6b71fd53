"""What differs between two editions, and which cases each."""

from __future__ import annotations

from dataclasses import replace

import small
from nopost.diagnosis.diagnose import Diagnostician
from nopost.evaluation.edition_report import ItemChange, ValueChange, all_cases, compare_cases, item_changes
from nopost.knowledge.model import Case, Combine, Knowledge

LAMP = small.finding("lamp", {"dark": 0.5, "lit": 0.5}, Combine.EITHER)
LOOSE = small.cause("loose", 30.0, {"lamp": {"dark": 0.2, "lit": 0.8}}, {"press": 0.9})
DEAD = small.cause("dead", 10.0, {"lamp": {"dark": 0.9, "lit": 0.1}}, {"press": 0.1})
SEEN = Case("dark-lamp", "A dark lamp", {"lamp": "dark"}, (), {}, {"cause": "dead"})
OTHER = Case("buzz", "A buzz", {"sound": "loud"}, (), {}, {"cause": "dead"})


def base(*causes: object) -> Knowledge:
    """A base with these causes."""
    return replace(small.knowledge([LAMP], list(causes), [small.fix("press", 1.0)]), cases={SEEN.id: SEEN})  # type: ignore[arg-type]


def test_nothing_changed() -> None:
    """The same base differs in nothing."""
    assert item_changes(base(LOOSE, DEAD), base(LOOSE, DEAD)) == []


def test_added_removed_changed() -> None:
    """Items and values are told by name and place, numbers as numbers."""
    heavier = replace(LOOSE, weight=40.0, shows={"lamp": {"dark": 0.3, "lit": 0.7}})
    found = item_changes(base(LOOSE, DEAD), base(heavier, small.cause("short", 1.0, {}, {})))
    values = (
        ValueChange("weight", 30.0, 40.0),
        ValueChange("shows.lamp.dark", 0.2, 0.3),
        ValueChange("shows.lamp.lit", 0.8, 0.7),
    )
    assert found == [
        ItemChange("causes", "dead", "dead", "removed"),
        ItemChange("causes", "loose", "loose", "changed", values),
        ItemChange("causes", "short", "short", "added"),
    ]
    assert all(value.is_number for value in values)


def test_text_and_place_that_comes_or_goes() -> None:
    """A value that was not there has no old one; a text is no number."""
    found = item_changes(base(LOOSE), base(replace(LOOSE, title="Loose", fixes={"press": 0.9, "wait": 0.2})))
    assert found[0].values == (ValueChange("title", "loose", "Loose"), ValueChange("fixes.wait", None, 0.2))
    assert not any(value.is_number for value in found[0].values)


def test_verdicts() -> None:
    """A case that was missed and is met is better; the other way round it is worse; one with foreign names is not there."""
    old, new = Diagnostician(base(replace(LOOSE, weight=300.0), DEAD)), Diagnostician(base(LOOSE, DEAD))
    assert [each.verdict for each in compare_cases(old, new, [SEEN])] == ["better"]
    assert [each.verdict for each in compare_cases(new, old, [SEEN])] == ["worse"]
    assert [each.verdict for each in compare_cases(new, new, [SEEN])] == ["same"]
    assert [each.verdict for each in compare_cases(old, new, [OTHER])] == ["not in old"]


def test_cases_of_both() -> None:
    """Each name once; the new edition's counts."""
    newer = replace(SEEN, title="A dark lamp, told anew")
    old, new = base(LOOSE, DEAD), replace(base(LOOSE, DEAD), cases={SEEN.id: newer})
    assert all_cases(old, new, [OTHER]) == [OTHER, newer]
