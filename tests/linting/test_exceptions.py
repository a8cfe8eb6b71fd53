"""Written exceptions: what they take off, and what they may not."""

from __future__ import annotations

from pathlib import Path

import pytest

from nopost.linting.runner import lint, only_codes

LONG = (
    "It is so, and the fan gets one push and then no more of it and so it stops and starts and stops again as long as it is in."
)
REASON = "The sentence is quoted from a manual."


def spoil(kb: Path, exceptions: str) -> None:
    """A sentence that is too long, and the exceptions."""
    path = kb / "causes" / "weak-supply.yaml"
    text = path.read_text(encoding="utf-8").replace("The voltage falls as soon as current flows.", LONG)
    path.write_text(text, encoding="utf-8")
    (kb / "exceptions.yaml").write_text(f"exceptions:\n{exceptions}", encoding="utf-8")


def entry(code: str = "long-sentence", about: str = "causes/weak-supply", reason: str = REASON) -> str:
    """One exception."""
    return f"  - code: {code}\n    about: [{about}]\n    reason: {reason}\n"


def test_it_takes_one_problem_off(tidy_kb: Path) -> None:
    """The problem is kept with its reason, and is counted no more."""
    spoil(tidy_kb, entry())
    found = lint(tidy_kb)
    assert found.problems == ()
    assert [(problem.code, reason) for problem, reason in found.excepted] == [("long-sentence", REASON)]
    assert not found.fails(strict=True)
    assert only_codes(found, ["long-sentence"]) == found
    assert only_codes(found, ["hard-text"]).excepted == ()


def test_it_takes_nothing_else_off(tidy_kb: Path) -> None:
    """Another item, another code: the problem stays, and the exception is one more."""
    for wrong in (entry(about="causes/loose-plug"), entry(code="hard-text"), entry(about="causes/weak-supply, findings/fan")):
        spoil(tidy_kb, wrong)
        assert {problem.code for problem in lint(tidy_kb).problems} == {"long-sentence", "idle-exception"}


def test_about_names_a_pair_in_any_order(tidy_kb: Path) -> None:
    """A problem about two items is excepted by naming both."""
    path = tidy_kb / "actions" / "push-plug.yaml"
    path.write_text(path.read_text(encoding="utf-8").replace("Push the plug in", "Measure the voltage"), encoding="utf-8")
    for about in ("actions/measure, actions/push-plug", "actions/push-plug, actions/measure"):
        (tidy_kb / "exceptions.yaml").write_text(f"exceptions:\n{entry('title-twice', about)}", encoding="utf-8")
        assert lint(tidy_kb).problems == ()


@pytest.mark.parametrize(
    ("exceptions", "code"),
    [
        ("  - {code: hard-text, about: [base]}\n", "schema-required"),
        (entry(reason='""'), "schema-minLength"),
        (entry(reason='"               "'), "schema-pattern"),
        (entry(reason='"..................."'), "schema-pattern"),
        (entry(about=""), "schema-minItems"),
        (entry(about="weak-supply"), "schema-pattern"),
        (entry(code="idle-exception"), "bad-exception"),
        (entry(code="sum"), "bad-exception"),
        ("  - [\n", "yaml-syntax"),
    ],
)
def test_what_is_no_exception(tidy_kb: Path, exceptions: str, code: str) -> None:
    """Without a reason, with an empty one, or for what cannot be excepted: a problem itself, with its line."""
    spoil(tidy_kb, exceptions)
    found = [problem for problem in lint(tidy_kb).problems if problem.path == "exceptions.yaml"]
    assert code in {problem.code for problem in found}
    assert all(problem.line > 0 for problem in found)


def test_the_loader_takes_no_notice(tidy_kb: Path) -> None:
    """A knowledge base with exceptions loads as before."""
    from nopost.loading import load_knowledge

    spoil(tidy_kb, entry())
    assert load_knowledge(tidy_kb).causes.keys() == {"loose-plug", "weak-supply"}
