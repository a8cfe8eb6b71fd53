"""What someone who is just adding items is told: errors of these files, and what other items are still wanted."""

from __future__ import annotations

from pathlib import Path

from nopost.linting.runner import problems_after_writing


def test_an_item_that_waits_for_its_rule_is_still_to_come(good_kb: Path) -> None:
    """An action that starts closed is no error of its file: the rule that opens it is written next, as is what names it."""
    path = good_kb / "actions" / "knock.yaml"
    text = (good_kb / "actions" / "push-plug.yaml").read_text(encoding="utf-8").replace("push-plug", "knock")
    path.write_text(f"{text}closed: true\n", encoding="utf-8")
    found = problems_after_writing(good_kb, path)
    assert (found.errors, found.warnings, found.elsewhere) == ((), (), 0)
    assert {problem.code for problem in found.to_come} == {"never-open", "unused-action"}


def test_errors_of_the_file_and_those_elsewhere(good_kb: Path) -> None:
    """A wrong name in the file is its error; one in another file is only counted."""
    for name in ("push-plug", "swap-supply"):
        path = good_kb / "actions" / f"{name}.yaml"
        path.write_text(path.read_text(encoding="utf-8").replace("part: power", "part: powder"), encoding="utf-8")
    found = problems_after_writing(good_kb, good_kb / "actions" / "push-plug.yaml")
    assert [(problem.path, problem.code) for problem in found.errors] == [("actions/push-plug.yaml", "unknown-name")]
    assert (found.to_come, found.elsewhere) == ((), 1)
