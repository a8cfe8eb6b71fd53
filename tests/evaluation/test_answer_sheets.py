"""Answer sheets: read, checked, and completed with the answers of a sound machine."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
import yaml

import small
from nopost.evaluation.answer_sheets import read_sheets, sound_answers
from nopost.knowledge.build import renamed
from nopost.knowledge.model import ABSENT, UNKNOWN, Combine, Finding, Instrument, Knowledge
from shipped import shipped_knowledge

REAL = Path(__file__).resolve().parents[1] / "real"
LAMP = small.finding("lamp", {"lit": 0.6, "dark": 0.4}, Combine.EITHER)
SWAP = small.finding("other-lamp", {"works": 0.9, "same": 0.1}, Combine.EITHER, unnamed={"works": 0.05, "same": 0.95})
METER = small.finding("meter", {}, reads=Instrument("lamp", {"lit": {"high": 0.9, "low": 0.1}, "dark": {"low": 1.0}}))
DERIVED = Finding(id="stage", title="Stage", part="part", answers=LAMP.answers)
SHEET = """\
case: one
cause: [loose]
words: It is dark.
answers:
  lamp: dark
mends: [press]
"""


def base() -> Knowledge:
    """A lamp, a swap test, an instrument; two causes and their fixes."""
    causes = [
        small.cause(name, 10.0, {"lamp": {"dark": 1.0}}, {fix: 0.9}) for name, fix in (("loose", "press"), ("dead", "swap"))
    ]
    return small.knowledge([LAMP, SWAP, METER, DERIVED], causes, [small.fix("press", 1.0), small.fix("swap", 1.0)])


def folder(tmp_path: Path, **texts: str) -> Path:
    """A folder with these files."""
    for name, text in texts.items():
        (tmp_path / f"{name}.yaml").write_text(text, encoding="utf-8")
    return tmp_path


def test_sound_answers() -> None:
    """The likeliest of the baseline, of `unnamed` before it, of what an instrument shows of that; unknown without numbers."""
    assert sound_answers(base()) == {"lamp": "lit", "other-lamp": "same", "meter": "high", "stage": UNKNOWN}


def test_sound_answers_against_a_judged_list() -> None:
    """The list that was judged by hand for edition 3 says the same, but for what most machines do not have at all (a lamp,
    display or speaker that reads what the machine did) and for what it has no answer to."""
    judged = yaml.load((REAL / "defaults.yaml").read_text(encoding="utf-8"), Loader=yaml.BaseLoader)
    derived = sound_answers(shipped_knowledge())
    differ = {name: answer for name, answer in judged.items() if name in derived and derived[name] != answer}
    assert {answer for answer in differ.values()} == {ABSENT, "(no default)"}
    assert all(shipped_knowledge().findings[name].reads for name in differ)
    assert len(differ) == 5


def test_every_sheet_here_is_read() -> None:
    """All 103, in the ids of the shipped base."""
    found = read_sheets(REAL / "sheets", shipped_knowledge())
    assert (len(found.sheets), found.left_out, found.untaken) == (103, (), ())


def test_read(tmp_path: Path) -> None:
    """What stands in a sheet."""
    (sheet,) = read_sheets(folder(tmp_path, one=SHEET), base()).sheets
    assert (sheet.case, sheet.causes, sheet.answers, sheet.mends) == ("one", ("loose",), {"lamp": "dark"}, frozenset({"press"}))
    assert sheet.words == "It is dark."


def test_what_is_no_sheet_is_told_and_left_out(tmp_path: Path) -> None:
    """No YAML, a link to nowhere, missing keys, a number for a text, something else: each with file and line."""
    texts = {
        "good": SHEET,
        "open": "case: [",
        "short": "case: one\n",
        "number": SHEET.replace("dark\nmends", "3\nmends"),
        "list": "- a",
    }
    where = folder(tmp_path, **texts)
    (where / "gone.yaml").symlink_to("/nowhere")
    (where / "notes.txt").write_text("no sheet at all", encoding="utf-8")
    found = read_sheets(where, base())
    assert [sheet.case for sheet in found.sheets] == ["one"]
    told = [str(problem).removeprefix(f"{where}/").partition(" →")[0] for problem in found.left_out]
    assert told == [
        "gone.yaml: no-file: there is no such file",
        'list.yaml:1: schema-type: the file: ["a"] is not of the type object',
        "number.yaml:5: schema-type: answers.lamp: 3 is not text",
        "open.yaml:2: yaml-syntax: did not find expected node content",
        "short.yaml:1: schema-required: the file: cause, answers, mends is missing",
    ]


def test_unknown_ids_are_told_once(tmp_path: Path) -> None:
    """Findings, answers, causes and fixes that the knowledge does not have; the rest of the sheet stays."""
    text = SHEET.replace("lamp: dark", "lamp: blue\n  horn: loud\n  other-lamp: absent")
    text = text.replace("[loose]", "[loose, gremlins]").replace("[press]", "[press, pray, swap]")
    found = read_sheets(folder(tmp_path, one=text, two=text.replace("case: one", "case: two")), base())
    assert found.left_out == ()
    assert [(Path(p.path).name, p.line, p.message) for p in found.untaken] == [
        ("one.yaml", 5, "lamp has no answer 'blue'"),
        ("one.yaml", 6, "there is no finding 'horn'"),
        ("one.yaml", 2, "there is no cause 'gremlins'"),
        ("one.yaml", 8, "there is no fix 'pray'"),
    ]
    first, second = found.sheets
    assert first.answers == {"lamp": UNKNOWN, "horn": UNKNOWN, "other-lamp": UNKNOWN}
    assert (first.causes, first.mends) == (("loose", "gremlins"), frozenset({"press", "pray", "swap"}))
    assert replace(second, case="one") == first


@pytest.mark.parametrize(
    ("answer", "wanted"),
    [("dark", {"lamp": "dark"}), ("works", {"other-lamp": "works"}), ("odd", {"lamp": UNKNOWN, "other-lamp": UNKNOWN})],
)
def test_old_ids(tmp_path: Path, answer: str, wanted: dict[str, str]) -> None:
    """Any new cause is right, each new fix mends, an answer goes where it can; one that nobody can place is told and never taken
    for a sound one."""
    old = {
        "findings": {"light": ["lamp", "other-lamp"]},
        "causes": {"bad": ["loose", "dead"]},
        "actions": {"mend": ["press", "swap"]},
    }
    knowledge = replace(base(), renamed=renamed(old))
    text = SHEET.replace("lamp: dark", f"light: {answer}").replace("[loose]", "[bad]").replace("[press]", "[mend]")
    found = read_sheets(folder(tmp_path, one=text), knowledge)
    (sheet,) = found.sheets
    assert (sheet.causes, sheet.mends, sheet.answers) == (("loose", "dead"), frozenset({"press", "swap"}), wanted)
    assert [p.message for p in found.untaken] == (
        ["light=odd became lamp and other-lamp in this knowledge base; tell it anew"] if answer == "odd" else []
    )
