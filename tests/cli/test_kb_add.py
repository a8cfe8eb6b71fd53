"""`nopost kb add` on a small base: drafts, mistakes, existing files, sessions, and what it says about problems."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from subprocess import CompletedProcess

import pytest
import yaml

from cli.guided_talk import leave, talk
from cli.terminal import Terminal, plain
from nopost.errors import NopostError
from nopost.knowledge.edit.new_base import NewBase, empty_files, write_base
from nopost_cli.shared.options import own_base

Run = Callable[..., CompletedProcess[str]]
At = Callable[..., Terminal]

ITEMS = {
    "findings/lamp.yaml": """\
id: lamp
title: Lamp
part: whole
question: Does the lamp glow?
answers:
  - {id: glows, text: It glows}
  - {id: dark, text: It is dark}
combine: graded
baseline: {glows: 1}
effort: {minutes: 1}
source: judgement
""",
    "actions/plug-in.yaml": """\
id: plug-in
title: Plug it in
kind: fix
part: whole
steps: [Plug it in.]
effort: {minutes: 1}
powered: true
source: judgement
""",
    "causes/unplugged.yaml": """\
# the commonest of all
id: unplugged
title: It is not plugged in
part: whole
weight: 100  # counted in 2031
shows:
  lamp: {glows: 0.05, dark: 0.95}  # some have two leads
  # more to come
fixes: {plug-in: 0.97}
proof: It runs with the plug in.
explanation: No power, no work.
source: {weight: judgement, shows: judgement, fixes: judgement}
""",
}
SOURCE = ("Source [judgement]", "")
SMELL = [
    ("What the person is asked", "Does it smell burnt?"),
    ("The same as a headline", "Burnt smell"),
    ("Id, which also names the file", ""),
    ("Part:", "1"),
    ("Kind [graded]", ""),
    ("Answer 1", "No smell"),
    ("its id", "none"),
    ("Answer 2", "Burnt"),
    ("its id", "none"),
    ("taken", "burnt"),
    ("Answer 3", ""),
]
SMELL_MORE = [
    ("Numbers", "95 5"),
    ("report it wrongly", ""),
    ("How to look", ""),
    ("Minutes of work", "0,5"),
    ("Money spent", ""),
    ("Risk", ""),
    ("Tool [-]", ""),
    ("Must the power be on", ""),
    ("only after some other answer", ""),
    ("Something rarer", ""),
    ("Source [judgement]", "text"),
    ("The source", "12 machines counted in 2031"),
    ("Write it?", ""),
    ("always be asked first", ""),
    ("Cause [-]", "unplugged"),
    ("Numbers", "99 1"),
    ("Not so", "95 5"),
]


@pytest.fixture
def base(tmp_path: Path) -> Path:
    """A base with one finding, one fix and one cause."""
    folder = tmp_path / "base"
    write_base(folder, {**empty_files(NewBase()), **{name: text.encode() for name, text in ITEMS.items()}})
    return folder


@pytest.mark.slow
def test_finding_touches_a_cause(base: Path, terminal: At, run: Run) -> None:
    """A line is added to the cause; its comments and every other line stay."""
    with terminal("kb", "add", "finding", "--kb", str(base), columns=60) as at:
        talk(at, [*SMELL, *SMELL_MORE])
        assert at.end() == 0
    assert "The knowledge base is in order" in plain(at.text)
    old, new = ITEMS["causes/unplugged.yaml"].splitlines(), (base / "causes/unplugged.yaml").read_text("utf-8").splitlines()
    assert [line for line in new if line not in old] == ["  burnt-smell: {none: 0.95, burnt: 0.05}"]
    assert [line for line in new if line in old] == old
    found = yaml.safe_load((base / "findings/burnt-smell.yaml").read_text("utf-8"))
    assert (found["effort"], found["source"]) == ({"minutes": 0.5}, "12 machines counted in 2031")
    assert run("kb", "check", str(base)).returncode == 0


@pytest.mark.slow
def test_an_instrument(base: Path, terminal: At, run: Run) -> None:
    """A finding that shows another one through a table: no baseline is asked, and no cause is offered to name it."""
    with terminal("kb", "add", "finding", "--kb", str(base)) as at:
        talk(
            at,
            [
                ("What the person is asked", "Does the needle stand in the green?"),
                ("The same as a headline", "Needle"),
                ("Id", ""),
                ("Part:", "1"),
                ("Kind [graded]", "reads"),
                ("Answer 1", "In the green"),
                ("its id", "green"),
                ("Answer 2", "In the red"),
                ("its id", "red"),
                ("Answer 3", ""),
                ("Reads", "lamp"),
                ("Lamp: It glows", "95 x"),
                ("Numbers", "95 5"),
                ("Lamp: It is dark", "red"),
                ("report it wrongly", ""),
                ("How to look", ""),
                ("Minutes of work", "1"),
                ("Money spent", ""),
                ("Risk", ""),
                ("Tool [-]", ""),
                ("Must the power be on", "y"),
                ("only after some other answer", ""),
                ("Something rarer", ""),
                SOURCE,
                ("Write it?", ""),
                ("always be asked first", ""),
            ],
        )
        assert at.end() == 0
    assert "Which existing causes" not in plain(at.text)
    found = yaml.safe_load((base / "findings/needle.yaml").read_text("utf-8"))
    assert found["reads"] == {"finding": "lamp", "table": {"glows": {"green": 0.95, "red": 0.05}, "dark": {"red": 1}}}
    assert not {"combine", "baseline", "unnamed"} & found.keys()
    assert run("kb", "check", str(base)).returncode == 0
    told = json.loads(run("diagnose", "--kb", str(base), "--answer", "needle=red", "--json").stdout)
    assert told["causes"][0]["probability"] > 0.8


@pytest.mark.slow
def test_a_finding_with_a_parent(base: Path, terminal: At, run: Run) -> None:
    """What follows from another answer: asked for each answer of the parent, and weighed together with it."""
    with terminal("kb", "add", "finding", "--kb", str(base)) as at:
        talk(
            at,
            [
                ("What the person is asked", "Is the housing warm?"),
                ("The same as a headline", "Warmth"),
                ("Id", ""),
                ("Part:", "1"),
                ("Kind [graded]", ""),
                ("Answer 1", "It is warm"),
                ("its id", "warm"),
                ("Answer 2", "It is cold"),
                ("its id", "cold"),
                ("Answer 3", ""),
                ("Numbers", "97 3"),
                ("report it wrongly", ""),
                ("How to look", ""),
                ("Minutes of work", "1"),
                ("Money spent", ""),
                ("Risk", ""),
                ("Tool [-]", ""),
                ("Must the power be on", "y"),
                ("only after some other answer", ""),
                ("Something rarer", "y"),
                ("has no such thing", ""),
                ("only once a rule opens it", ""),
                ("Finding [-]", "lamp"),
                ("Lamp: It glows", "98 2"),
                ("Lamp: It is dark", "10 90"),
                SOURCE,
                ("Write it?", ""),
                ("always be asked first", ""),
                ("Cause [-]", ""),
            ],
        )
        assert at.end() == 0
    found = yaml.safe_load((base / "findings/warmth.yaml").read_text("utf-8"))
    assert found["parent"] == "lamp"
    assert found["given"] == {"glows": {"warm": 0.98, "cold": 0.02}, "dark": {"warm": 0.1, "cold": 0.9}}


@pytest.mark.slow
def test_another_kind_at_the_end(base: Path, terminal: At, run: Run) -> None:
    """An instrument that turns out to be none: its table is forgotten, and a baseline is asked."""
    asked = [
        ("What the person is asked", "Does the needle stand in the green?"),
        ("The same as a headline", "Needle"),
        ("Id", ""),
    ]
    answers = [("Answer 1", "In the green"), ("its id", "green"), ("Answer 2", "In the red"), ("its id", "red"), ("Answer 3", "")]
    rest = [("report it wrongly", ""), ("How to look", ""), ("Minutes of work", "1"), ("Money spent", ""), ("Risk", "")]
    last = [("Tool [-]", ""), ("Must the power be on", ""), ("only after some other answer", ""), ("Something rarer", ""), SOURCE]
    table = [("Reads", "lamp"), ("Lamp: It glows", "95 5"), ("Lamp: It is dark", "red")]
    change = [("Write it?", "n"), ("to be changed", "combine"), ("Kind [graded]", "graded"), ("Numbers", "95 5")]
    end = [("Write it?", ""), ("always be asked first", ""), ("Cause [-]", "")]
    with terminal("kb", "add", "finding", "--kb", str(base)) as at:
        talk(at, [*asked, ("Part:", "1"), ("Kind [graded]", "reads"), *answers, *table, *rest, *last, *change, *end])
        assert at.end() == 0
    found = yaml.safe_load((base / "findings/needle.yaml").read_text("utf-8"))
    assert (found["combine"], found["baseline"]) == ("graded", {"green": 0.95, "red": 0.05})
    assert "reads" not in found
    assert run("kb", "check", str(base)).returncode == 0


@pytest.mark.slow
def test_draft(base: Path, terminal: At) -> None:
    """Ctrl-C keeps what was answered; the next start goes on from there and drops the draft when it is done."""
    with terminal("kb", "add", "finding", "--kb", str(base)) as at:
        talk(at, SMELL)
        at.wait_for("Numbers")
        leave(at, "\x03", "Kept as a draft")
        assert at.end() == 130
    assert not (base / "findings/burnt-smell.yaml").exists()
    with terminal("kb", "add", "finding", "--kb", str(base)) as at:
        talk(at, [("draft of a finding from last time: Burnt smell", ""), *SMELL_MORE])
        assert at.end() == 0
    assert (base / "findings/burnt-smell.yaml").is_file()
    with terminal("kb", "add", "finding", "--kb", str(base)) as at:
        assert "draft" not in at.wait_for("What the person is asked")
        leave(at, "\x04", "Left.")
        assert at.end() == 130


def test_change_before_it_is_written(base: Path, terminal: At) -> None:
    """No at the end asks which answer is to be changed; typos and empty answers are asked again."""
    with terminal("kb", "add", "hazard", "--kb", str(base)) as at:
        talk(
            at,
            [
                ("What can hurt", ""),
                ("3 to 100 characters, here 0", "Hot surface"),
                ("Id, which also names the file", "Hot Surface"),
                ("small letters", "hot"),
                ("What to do and not to do", "no"),
                ("3 to 1500", "Wait ten minutes."),
                ("Words, parted by commas", "x"),
                ("'x'", ""),
                ("by their part or tool", ""),
                ("power wait", ""),
                ("Source [judgement]", "judgment"),
                ("did you mean judgement", "practice"),
                ("Write it?", "n"),
                ("to be changed", "caution"),
                ("What to do and not to do", "Wait twenty minutes: it is \x1b[Ahot."),
                ("no character", "Wait twenty minutes: it is hot."),
                ("Write it?", ""),
            ],
        )
        assert at.end() == 0
    found = yaml.safe_load((base / "hazards/hot.yaml").read_text("utf-8"))
    assert (found["caution"], found["source"]) == ("Wait twenty minutes: it is hot.", "common practice, no source")


def test_never_over_a_file(base: Path, terminal: At) -> None:
    """An id that is taken is asked again."""
    with terminal("kb", "add", "cause", "--kb", str(base)) as at:
        talk(at, [("What is wrong", "Unplugged"), ("Id, which also names the file [unplugged-2]", "unplugged")])
        at.wait_for("there is a file of this id already")
        leave(at, "\x03", "Left.")
    assert (base / "causes/unplugged.yaml").read_text("utf-8") == ITEMS["causes/unplugged.yaml"]


def test_problems_are_shown_and_the_file_stays(base: Path, terminal: At) -> None:
    """A rule that depends on its own absence passes its schema and not the whole: exit 1, nothing lost."""
    with terminal("kb", "add", "rule", "--kb", str(base)) as at:
        talk(
            at,
            [
                ("The rule as a headline", "Round and round"),
                ("Id", ""),
                ("Finding:", "lamp"),
                ("Answer (several", "glows"),
                ("Finding [-]", ""),
                ("Finding [-]", "lamp"),
                ("Answer (several", "dark"),
                ("Finding [-]", ""),
                ("Then:", "derive"),
                ("Which:", "lamp"),
                ("Answer:", "dark"),
                ("Then [-]", ""),
                ("The reason", "For this test."),
                SOURCE,
                ("Write it?", ""),
            ],
        )
        assert at.end() == 1
    assert "rules/round-round.yaml" in plain(at.text)
    assert "The file stays" in plain(at.text)
    assert (base / "rules/round-round.yaml").is_file()


def test_action_touches_a_cause(base: Path, terminal: At) -> None:
    """A new fix is added to the causes it mends."""
    with terminal("kb", "add", "action", "--kb", str(base)) as at:
        talk(
            at,
            [
                ("What to do", "Use another lead"),
                ("Id", ""),
                ("Kind [fix]", ""),
                ("Part:", "1"),
                ("1:", ""),
                ("at least 1", "Swap the lead."),
                ("2:", ""),
                ("Minutes of work", "-3"),
                ("0 to 10000", "ten"),
                ("type a number", "3"),
                ("Money", ""),
                ("Risk", ""),
                ("Tool [-]", ""),
                ("switched on", ""),
                ("under some conditions", ""),
                ("Findings:", ""),
                ("settings back", ""),
                ("Something rarer", ""),
                SOURCE,
                ("Write it?", ""),
                ("Cause [-]", "unplugged"),
                ("in how many of 100", "10"),
            ],
        )
        assert at.end() == 0
    assert "fixes: {plug-in: 0.97, use-another-lead: 0.1}" in (base / "causes/unplugged.yaml").read_text("utf-8").splitlines()


def test_case_from_a_session(base: Path, terminal: At, run: Run) -> None:
    """A session that ended well is a case but for its headline."""
    with terminal("diagnose", "--kb", str(base), "--name", "monday", "--answer", "lamp=dark", "--ask") as at:
        at.prompt()
        at.say("1")
        leave(at, "\x04", "")
        at.end()
    with terminal("kb", "add", "case", "--kb", str(base), "--session", "monday") as at:
        talk(
            at, [("The case in one line", "The lead lay beside the socket"), ("Id", "lead-beside"), ("What the person told", "")]
        )
        talk(at, [("Within", "1"), ("What was done", ""), SOURCE, ("Write it?", "")], len(plain("")))
        assert at.end() == 0
    found = yaml.safe_load((base / "cases/lead-beside.yaml").read_text("utf-8"))
    assert found["answers"] == {"lamp": "dark"}
    assert found["tried"] == [{"action": "plug-in", "outcome": "starts"}]
    assert found["expect"] == {"cause": "unplugged", "within": 1}
    tried = run("kb", "try", "--kb", str(base), "--json")
    assert tried.returncode == 0
    assert json.loads(tried.stdout)["cases"]


@pytest.mark.parametrize(
    ("arguments", "code", "said"),
    [
        (("cause",), 1, "nopost kb new"),
        (("cause", "--kb", "nowhere"), 1, "nowhere has no base.yaml"),
        (("cause", "--kb", "BASE"), 2, "no terminal to ask on"),
        (("cause", "--kb", "BASE", "--session", "x"), 2, "--session goes with"),
        (("causes",), 2, "is not one of"),
    ],
)
def test_refused(arguments: tuple[str, ...], code: int, said: str, base: Path, run: Run) -> None:
    """In one line, without a traceback."""
    done = run("kb", "add", *(str(base) if word == "BASE" else word for word in arguments))
    assert (done.returncode, said in done.stderr, "Traceback" in done.stderr) == (code, True, False), done.stderr


def test_the_shipped_base_stays(base: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Inside an installed wheel nothing is changed; a checkout's kb/ may be."""
    packaged = base.parent / "_data" / "kb"
    packaged.parent.mkdir()
    base.rename(packaged)
    monkeypatch.setattr("nopost.files.data_dir", lambda name: packaged)
    with pytest.raises(NopostError, match="nopost kb new DIR"):
        own_base(packaged)
    checkout = base.parent / "kb"
    packaged.rename(checkout)
    monkeypatch.setattr("nopost.files.data_dir", lambda name: checkout)
    assert own_base(checkout) == checkout


def test_left_within_a_new_fix(base: Path, terminal: At) -> None:
    """Both the fix and the cause around it are kept; going on with the cause offers the fix's draft too."""
    with terminal("kb", "add", "cause", "--kb", str(base)) as at:
        talk(
            at,
            [
                ("What is wrong", "The fuse has blown"),
                ("Id", ""),
                ("Part:", "1"),
                ("Of a thousand", "5"),
                ("Finding:", "lamp"),
                ("Numbers", "dark"),
                ("Finding [-]", ""),
                ("Fix:", "+"),
                ("What to do", "Change the fuse"),
                ("Id", ""),
            ],
        )
        at.wait_for("Kind [fix]")
        leave(at, "\x03", "Kept as a draft: the cause.")
        assert at.end() == 130
    assert "Kept as a draft: the action." in plain(at.text)
    with terminal("kb", "add", "cause", "--kb", str(base)) as at:
        talk(at, [("The fuse has blown", ""), ("Fix:", "+"), ("Change the fuse; 2 questions answered", "")])
        at.wait_for("Kind [fix]")
        leave(at, "\x04", "Left.")
    assert "Numbers" not in plain(at.text)


def test_a_broken_base_is_mended_first(base: Path, terminal: At) -> None:
    """Without parts and tools nothing can be asked; one broken item is no hindrance."""
    (base / "causes/unplugged.yaml").write_text("id: [", "utf-8")
    with terminal("kb", "add", "hazard", "--kb", str(base)) as at:
        at.wait_for("What can hurt")
        leave(at, "\x04", "Left.")
    (base / "base.yaml").write_text("name: x\n", "utf-8")
    with terminal("kb", "add", "hazard", "--kb", str(base)) as at:
        assert at.end() == 1
    assert "base.yaml has problems" in plain(at.text)
