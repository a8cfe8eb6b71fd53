"""The trainer's manual on writing by hand: its rule and its case go into the coffee base as they stand, and do what it says."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

from cli.manual_blocks import MANUAL, blocks
from nopost.diagnosis.diagnose import Diagnostician
from nopost.diagnosis.history import case_history
from nopost.knowledge.effects import Effect
from nopost.linting.runner import lint
from nopost.loading import load_knowledge

COFFEE = MANUAL.parents[1] / "tests" / "cli" / "coffee_kb"


def test_a_rule_and_a_case_by_hand(tmp_path: Path) -> None:
    """Nothing new is wrong with the base, the rule fires in the case, and the cause that it rules out is out."""
    kb = Path(shutil.copytree(COFFEE, tmp_path / "coffee"))
    before = lint(kb).problems
    for folder, name in (("rules", "rattling-pump-has-mains"), ("cases", "rattled-on-monday")):
        (text,) = ("\n".join(b.lines) for b in blocks("trainer.md") if b.kind == "yaml" and b.lines[0] == f"id: {name}")
        (kb / folder / f"{name}.yaml").write_text(f"{text}\n", encoding="utf-8")
    assert lint(kb).problems == before
    diagnostician = Diagnostician(load_knowledge(kb, cached=False))
    case = diagnostician.knowledge.cases["rattled-on-monday"]
    found = diagnostician.diagnose(case_history(case))
    assert set(case.expect["fires"]) <= {firing.rule for firing in found.inference.firings}
    assert found.ranking[0][0] == case.expect["cause"]
    assert "no-mains" in found.inference.ruled_out


def test_every_verb_is_in_the_manual() -> None:
    """The table of what can follow has all verbs that a rule can have, and no other."""
    table = (MANUAL / "trainer.md").read_text(encoding="utf-8").split("| verb |")[1].split("\n\n")[0]
    first_cells = [row.split("|")[1] for row in table.splitlines()[2:]]
    named = [word for cell in first_cells for word in re.findall(r"`([a-z-]+)[:`]", cell)]
    assert sorted(named) == sorted(map(str, Effect))
