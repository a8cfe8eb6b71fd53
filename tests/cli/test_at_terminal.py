"""The dialogue at a real terminal: whole sessions, keys, interruptions, widths, and a disk that is full."""

from __future__ import annotations

import json
import shlex
import shutil
import signal
import subprocess
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from rich.cells import cell_len

from cli.forked import forking
from cli.terminal import ROOT, Terminal, nopost, plain, words
from nopost.diagnosis.history import End, EventKind
from nopost.diagnosis.replay import event_answers
from nopost.knowledge.model import UNKNOWN, Knowledge
from nopost.store.sessions import Session, load, session_names

Spawn = Callable[..., Terminal]
Run = Callable[..., subprocess.CompletedProcess[str]]

NO_SPACE = """\
import errno, os
def fsync(_):
    if os.path.exists(os.environ["NOPOST_FULL"]):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
os.fsync = fsync
"""


def kept(knowledge: Knowledge, name: str = "bench") -> Session:
    """The session on disk."""
    return load(name, knowledge)


def given(session: Session) -> list[tuple[str, str]]:
    """Findings and answers."""
    return [(event.item, event.value) for event in session.history.events if event.kind is EventKind.ANSWER]


def step(screen: str) -> int:
    """The number of the step on screen."""
    return int(plain(screen).split(", step ")[-1].split()[0])


def start(t: Terminal, number: int = 1) -> str:
    """Wait for the first screen."""
    screen = t.prompt()
    assert step(screen) == number
    return screen


def until_it_starts(t: Terminal, most: int = 60) -> str:
    """Say what a person with a stubborn machine says, and then that the third fix did it."""
    fixes, screen = 0, start(t)
    for _ in range(most):
        shown = words(screen)
        if "It starts now" in shown:
            fixes += 1
            screen = t.say("it starts" if fixes == 3 else "2")
        elif "Take it to a shop and" in shown:
            screen = t.say("2")
        else:
            screen = t.say("1a" if "in one go, in any order" in shown else "1")
        if t.process.poll() is not None or "Before you call it well" in screen:
            return screen
    raise AssertionError(f"no end in sight:\n{plain(screen)}")


@pytest.mark.slow
def test_whole_session(terminal: Spawn, knowledge: Knowledge) -> None:
    """From the first question to 'It starts': the proof, what may have been reset, and where the report is."""
    with terminal("diagnose", "--name", "bench") as t:
        last = words(until_it_starts(t))
        assert t.end() == 0
    assert "It starts" in last
    assert words(knowledge.base.proof[0]) in last
    assert "nopost report bench" in last
    end = kept(knowledge).history.end
    assert end is not None
    assert end.value == End.STARTS
    assert f"Most probably: {words(knowledge.causes[end.item].title)}" in last


@pytest.mark.slow
def test_ways_to_answer(terminal: Spawn, knowledge: Knowledge) -> None:
    """A number, first letters, and what cannot be understood, which changes nothing."""
    danger, occasion = knowledge.findings["danger-signs"], knowledge.findings["occasion"]
    with terminal("diagnose", "--name", "bench") as t:
        start(t)
        for typed, said in [
            ("", "Type a number"),
            ("0", "it goes from 1 to"),
            ("99", "it goes from 1 to"),
            ("xyzzy", "fits no choice"),
            ("a", "fits several"),
            ("\N{SNOWMAN}", "fits no choice"),
            ("x" * 3000, "fits no choice"),
        ]:
            screen = t.say(typed)
            assert said in words(screen)
            assert step(screen) == 1
        assert kept(knowledge).history.events == ()
        assert step(t.say("1")) == 2
        assert step(t.say(occasion.answer_text("new-build").upper())) == 3
        t.say("q")
        assert t.end() == 0
    assert given(kept(knowledge)) == [("danger-signs", danger.answer_ids[0]), ("occasion", "new-build")]


@pytest.mark.slow
def test_keys(terminal: Spawn, knowledge: Knowledge) -> None:
    """Help, why, causes and the others show a page and lead back; skip, undo and tell change the session."""
    with terminal("diagnose", "--name", "bench", "--ask", "--answer", "danger-signs=none", "--answer", "occasion=new-build") as t:
        start(t, 3)
        for key, said in [("?", "Type the number of a choice"), ("w", "decibans"), ("c", "Causes"), ("W", "rules that apply")]:
            assert said in words(t.say(key))
            assert step(t.say("")) == 3
        assert "Other steps" in words(t.say("o"))
        assert step(t.say("")) == 3
        assert step(t.say("s")) == 4
        screen = t.say("u")
        assert "Taken back" in words(screen)
        assert step(screen) == 3
        assert "What is it about?" in words(t.say("t"))
        assert "No question is about 'xyzzy'" in words(t.say("xyzzy"))
        t.say("t")
        assert "How many" in words(t.say("beep")) or "beep" in words(t.text).casefold()
        assert step(t.say("1")) == 3
        assert step(t.say("1")) == 4
        t.say("q")
        assert t.end() == 0
    session = kept(knowledge)
    assert len(given(session)) == 3
    assert "beep" in " ".join(given(session)[2])


@pytest.mark.slow
def test_pages_take_what_is_typed(terminal: Spawn, knowledge: Knowledge) -> None:
    """An answer, a key or a slip at a page counts as at the step; only Enter leads back without one."""
    with terminal("diagnose", "--name", "bench", "--ask", "--answer", "danger-signs=none") as t:
        start(t, 2)
        assert "Type the number of a choice" in words(t.say("?"))
        assert "decibans" in words(t.say("w"))
        slip = t.say("xyzzy")
        assert step(slip) == 2
        assert "'xyzzy' fits no choice" in words(slip)
        t.say("c")
        assert step(t.say("1")) == 3
        t.say("?")
        assert "Kept." in words(t.say("q"))
        assert t.end() == 0
    assert given(kept(knowledge)) == [("danger-signs", "none"), ("occasion", knowledge.findings["occasion"].answer_ids[0])]


@pytest.mark.slow
def test_own_base_stands_in_what_is_offered(terminal: Spawn, tmp_path: Path) -> None:
    """A session with another knowledge base names it in the lines that go on and pass on, also without records of the parts."""
    base = Path(shutil.copytree(ROOT / "kb", tmp_path / "my base"))
    with terminal("diagnose", "--name", "bench", "--kb", str(base)) as t:
        start(t)
        line = plain(t.say("q")).rpartition("Go on with: ")[2].strip()
    assert shlex.split(line) == ["nopost", "resume", "bench", "--kb", str(base)]
    with terminal("resume", "bench") as t:  # it goes on with its own base in any case
        last = plain(until_it_starts(t)).rpartition("To pass it on: ")[2].strip()
    assert shlex.split(last) == ["nopost", "report", "bench", "--kb", str(base)]


@pytest.mark.slow
def test_sessions_are_counted_by_their_own_base(run: Run, tmp_path: Path) -> None:
    """A finding that only the session's own base has is counted too; without that base what is known is."""
    base = Path(shutil.copytree(ROOT / "tests" / "bad_kb" / "_good", tmp_path / "mine"))
    assert run("diagnose", "--name", "own", "--kb", str(base), "--answer", "fan=still", "--ask", stdin="q\n").returncode == 0
    (row,) = json.loads(run("sessions", "--json").stdout)["sessions"]
    assert (row["name"], row["answers"]) == ("own", 1)
    base.rename(tmp_path / "moved")
    (row,) = json.loads(run("sessions", "--json").stdout)["sessions"]
    assert (row["name"], row["answers"]) == ("own", 0)


@pytest.mark.slow
def test_own_base_that_is_gone(run: Run, tmp_path: Path, home: Path) -> None:
    """One line that says what the session asks for and what mends it; also when its file was damaged there."""
    base = Path(shutil.copytree(ROOT / "kb", tmp_path / "mine"))
    assert run("diagnose", "--name", "own", "--kb", str(base), "--ask", stdin="1\nq\n").returncode == 0
    moved = base.rename(tmp_path / "moved")
    for verb in ("report", "resume"):
        done = run(verb, "own", stdin="q\n")
        assert done.returncode == 1
        assert str(base) in done.stderr
        assert "--kb DIR" in done.stderr
    assert run("report", "own", "--kb", str(moved)).returncode == 0
    path = home / "sessions" / "own.json"
    path.write_text(path.read_text("utf-8").replace(json.dumps(str(base)), '"\\u0000"'), "utf-8")
    done = run("report", "own")
    assert (done.returncode, "Traceback" in done.stderr) == (1, False)


@pytest.mark.slow
def test_undo_back_to_nothing(terminal: Spawn, knowledge: Knowledge) -> None:
    """Everything can be taken back, and then nothing more."""
    with terminal("diagnose", "--name", "bench") as t:
        start(t)
        t.say("1")
        t.say("s")
        assert step(t.say("u")) == 2
        assert step(t.say("u")) == 1
        assert "nothing to take back" in words(t.say("u"))
        t.say("q")
        assert t.end() == 0
    assert kept(knowledge).history.events == ()


@pytest.mark.slow
def test_other_step_and_a_fix(terminal: Spawn, knowledge: Knowledge) -> None:
    """A step of the person's own choice: chosen, left again with undo, chosen again and done."""
    with terminal("diagnose", "--name", "bench") as t:
        start(t)
        t.say("1")
        lines = [line.strip() for line in plain(t.say("o")).splitlines()]
        fixes = {a.title: a.id for a in knowledge.actions.values() if a.kind == "fix"}
        number, fix = next(
            (line.split()[0], fixes[title]) for line in lines for title in [line.partition(" ")[2].strip()] if title in fixes
        )
        assert "It starts now" in words(t.say(number))
        assert "It starts now" not in words(t.say("u"))
        t.say("o")
        t.say(number)
        assert step(t.say("nothing has")) == 3
        t.say("q")
    assert [(e.kind, e.item, e.value) for e in kept(knowledge).history.events][1:] == [(EventKind.TRIED, fix, "same")]


@pytest.mark.slow
def test_stop_hazard_is_first(terminal: Spawn, knowledge: Knowledge) -> None:
    """After a burnt smell the caution stands on every screen that follows."""
    with terminal("diagnose", "--name", "bench") as t:
        start(t)
        screen = t.say(knowledge.findings["danger-signs"].answer_text("burnt-smell-or-smoke"))
        assert "STOP" in screen
        assert "STOP" in t.say("s")


@pytest.mark.slow
@pytest.mark.parametrize(("leave", "code"), [("\x03", 130), ("\x04", 0)], ids=["ctrl-c", "ctrl-d"])
@pytest.mark.parametrize("page", ["", "?", "o", "t"])
def test_interrupted(terminal: Spawn, knowledge: Knowledge, leave: str, code: int, page: str) -> None:
    """Ctrl-C and Ctrl-D leave and keep the session, at the step and on every page; the exit code tells which it was."""
    with terminal("diagnose", "--name", "bench") as t:
        start(t)
        t.say("1")
        if page:
            t.say(page)
        t.press_until(leave, "Kept. Go on with: nopost resume bench")
        assert t.end() == code
    assert given(kept(knowledge)) == [("danger-signs", "none")]


@pytest.mark.slow
def test_killed_and_resumed(terminal: Spawn, knowledge: Knowledge) -> None:
    """kill -9 right after an answer: the answer is there, and `resume` goes on behind it."""
    with terminal("diagnose", "--name", "bench") as t:
        start(t)
        t.say("1")
        t.say("2")
        t.process.kill()
        assert t.end() == -signal.SIGKILL
    answers = given(kept(knowledge))
    assert len(answers) == 2
    for name in ([], ["bench"]):
        with terminal("resume", *name) as t:
            start(t, 3)
            t.say("q")
            assert t.end() == 0
    assert given(kept(knowledge)) == answers


@pytest.mark.slow
def test_two_terminals(terminal: Spawn, knowledge: Knowledge) -> None:
    """Two on one session: the second to answer is told, and what the first one kept stands."""
    with terminal("diagnose", "--name", "bench") as first:
        start(first)
        with terminal("resume", "bench") as second:
            start(second)
            second.say("1")
            assert "another nopost wrote this session" in words(first.say("2"))
            second.say("q")
            assert second.end() == 0
        first.say("q")
        assert first.end() == 1
    assert "To go on from here: nopost diagnose --ask --answer danger-signs=" in words(first.text)
    assert given(kept(knowledge)) == [("danger-signs", "none")]


@pytest.mark.slow
def test_going_on_after_the_end(terminal: Spawn, knowledge: Knowledge) -> None:
    """A session that ended goes on where it was before its end."""
    with terminal("diagnose", "--name", "bench") as t:
        until_it_starts(t)
        assert t.end() == 0
    count = len(kept(knowledge).history.events)
    with terminal("resume") as t:
        assert step(t.prompt()) == count
        t.say("q")
        assert t.end() == 0
    assert kept(knowledge).history.end is None


@pytest.mark.slow
@pytest.mark.parametrize("columns", [40, 60, 200])
def test_no_line_is_wider_than_the_window(terminal: Spawn, columns: int) -> None:
    """Whatever is shown fits the window; a terminal that wraps lines itself breaks words and bars."""
    with terminal("diagnose", "--name", "bench", columns=columns) as t:
        start(t)
        t.say("1")
        for key in ("?", "w", "c"):
            t.say(key)
            t.say("")
        t.say("2")
        t.say("o")
        t.say("")
        t.say("t")
        t.say("memory")
        t.say("")
        t.say("q")
        assert t.end() == 0
    assert [line for line in plain(t.text).splitlines() if cell_len(line) > columns] == []


@pytest.mark.slow
def test_the_end_fits_a_narrow_window(terminal: Spawn) -> None:
    """A whole session in 60 columns, with its fixes and its end."""
    with terminal("diagnose", "--name", "bench", columns=60) as t:
        until_it_starts(t)
        assert t.end() == 0
    assert [line for line in plain(t.text).splitlines() if cell_len(line) > 60] == []


@pytest.mark.slow
def test_dumb_terminal(terminal: Spawn, knowledge: Knowledge) -> None:
    """TERM=dumb gets no escape codes at all."""
    with terminal("diagnose", "--name", "bench", env={"TERM": "dumb"}) as t:
        start(t)
        t.say("1")
        t.say("c")
        t.say("")
        t.say("q")
        assert t.end() == 0
    assert "\x1b" not in t.text
    assert len(given(kept(knowledge))) == 1


@pytest.mark.slow
@pytest.mark.parametrize(
    "given",
    [
        ("decode", "/none{}"),
        ("diagnose", "--kb", "/none{}"),
        ("diagnose", "--answers", "/none{}"),
        ("diagnose", "--answer", "{}"),
        ("sessions", "{}"),
    ],
)
def test_mistakes_cannot_control_the_terminal(terminal: Spawn, given: tuple[str, ...]) -> None:
    """What a message quotes is shown without its escape codes, on a terminal too."""
    with terminal(*(word.format("\x1b[31mx\x07") for word in given)) as t:
        assert t.end() in (1, 2)
    assert "�" in t.text
    assert "\x1b[31m" not in t.text
    assert "\x07" not in t.text


@pytest.mark.slow
def test_no_color(terminal: Spawn) -> None:
    """NO_COLOR: no colour; everything is still told apart."""
    with terminal("diagnose", "--name", "bench", env={"NO_COLOR": "1"}) as t:
        start(t)
        t.say("burnt")
        t.say("q")
        t.end()
    codes = [code for part in t.text.split("\x1b[")[1:] if "m" in part[:12] for code in part.split("m")[0].split(";")]
    assert not [code for code in codes if code.isdigit() and 30 <= int(code) <= 107]
    assert "STOP" in t.text


@pytest.mark.slow
def test_poor_encoding(terminal: Spawn) -> None:
    """A terminal without drawn blocks gets plain ones."""
    with terminal("diagnose", "--name", "bench", env={"PYTHONIOENCODING": "ascii"}) as t:
        start(t)
        t.say("1")
        t.say("\N{SNOWMAN}")
        t.say("q")
        assert t.end() == 0
    assert "#." in plain(t.text)


@pytest.mark.slow
def test_full_disk(terminal: Spawn, knowledge: Knowledge, tmp_path: Path) -> None:
    """The disk fills up: it is said, the answers are held, and they are kept as soon as there is room."""
    (tmp_path / "sitecustomize.py").write_text(NO_SPACE, encoding="utf-8")
    full = tmp_path / "full"
    with terminal("diagnose", "--name", "bench", env={"FIRST": str(tmp_path), "NOPOST_FULL": str(full)}) as t:
        start(t)
        assert "Not kept" not in t.say("1")
        full.touch()
        for number in (3, 4):
            screen = words(t.say("1"))
            assert "Not kept" in screen
            assert "No space left on device; what was kept before still stands" in screen
            assert step(screen) == number
        assert len(kept(knowledge).history.events) == 1
        full.unlink()
        assert "Not kept" not in t.say("2")
        assert len(kept(knowledge).history.events) == 4
        full.touch()
        t.say("2")
        t.say("q")
        assert t.end() == 1
    last = words(t.text).split("To go on from here: ")[1]
    assert last.startswith("nopost diagnose --ask --answer danger-signs=none")
    assert last.count("--answer") + last.count("--tried") == 5


@pytest.mark.slow
def test_place_that_cannot_be_written(terminal: Spawn) -> None:
    """A data folder that cannot be: said from the first screen on."""
    with terminal("diagnose", "--name", "bench", env={"NOPOST_HOME": "/dev/null/x"}) as t:
        assert "Not kept" in words(t.prompt())
        assert "Not kept" in words(t.say("1"))
        t.type("\x04")
        assert t.end() == 1
    assert "To go on from here" in t.text


@pytest.mark.slow
def test_what_could_not_be_kept_is_offered_whole(terminal: Spawn, run: Callable[..., subprocess.CompletedProcess[str]]) -> None:
    """The command line that is offered holds the parts, the person, the skipped step and the answers; it is taken as it is."""
    parts = ("--board", "tb-slipway-a1", "--slots", "M2", "--currency", "EUR", "--have", "spare-memory", "--per-minute", "0.5")
    told = ("--answer", "danger-signs=none", "--answer", "screen=no-signal", "--tried", "reseat-memory=same")
    with terminal(
        "diagnose", "--ask", *parts, *told, "--skipped", "try-other-memory", columns=400, env={"NOPOST_HOME": "/dev/null/x"}
    ) as t:
        t.prompt()
        t.say("q")
        assert t.end() == 1
    offered = plain(t.text).split("To go on from here: nopost ")[1].splitlines()[0]
    for pair in zip((*parts, *told)[::2], (*parts, *told)[1::2], strict=True):
        assert " ".join(pair) in offered
    assert "--skipped try-other-memory" in offered
    done = run(*[word for word in shlex.split(offered) if word != "--ask"], "--json")
    assert (done.returncode, done.stderr) == (0, "")
    assert all(step["id"] != "try-other-memory" for step in json.loads(done.stdout)["others"])


@pytest.mark.slow
def test_end_that_cannot_be_kept(terminal: Spawn, tmp_path: Path) -> None:
    """The machine starts and the disk is full: the end is shown, and that it is not kept; the exit code says so too."""
    (tmp_path / "sitecustomize.py").write_text(NO_SPACE, encoding="utf-8")
    full = tmp_path / "full"
    full.touch()
    with terminal("diagnose", "--name", "bench", env={"FIRST": str(tmp_path), "NOPOST_FULL": str(full)}) as t:
        last = words(until_it_starts(t))
        assert t.end() == 1
    assert "Before you call it well" in last
    assert "To go on from here" in last
    assert not session_names()


@pytest.mark.slow
def test_bare_number_is_no_code(terminal: Spawn, knowledge: Knowledge) -> None:
    """A number beyond the choices is a choice mistyped; marked as hexadecimal, with letters, or several are codes."""
    with terminal("diagnose", "--name", "bench") as t:
        start(t)
        screen = words(t.say("55"))
        assert "There is no number 55" in screen
        assert "If it is a code, type 0x55" in screen
        assert kept(knowledge).history.events == ()
        assert "Read as codes" in words(t.say("0x55"))


@pytest.mark.slow
def test_pasted_lines(terminal: Spawn, knowledge: Knowledge) -> None:
    """Lines pasted where the terminal does not mark a paste: codes are read as one text, anything else is not taken at all."""
    env = {"INPUTRC": "/dev/null", "TERM": "dumb"}
    with terminal("diagnose", "--name", "bench", env=env) as t:
        start(t)
        begin = len(t.text)
        t.type("what I saw\n1\n2\n")
        t.wait_for("none of them was taken", begin)
        assert kept(knowledge).history.events == ()
        begin = len(t.text)
        t.type("60\n61\n62\n55\n")
        t.wait_for("Read as codes", begin)
        t.prompt(begin)
        t.type("\x04")
        assert t.end() == 0
    (event,) = kept(knowledge).history.events
    assert (event.kind, event.text) == (EventKind.CODES, "60\n61\n62\n55")
    assert "trace-stage" in event_answers(event, knowledge)


@pytest.mark.slow
def test_several_at_once_keep_a_session_each(home: Path) -> None:
    """Begun at the same moment without a name: each has a name of its own."""
    forking()  # one for all of them
    with ThreadPoolExecutor(6) as pool:
        started = [pool.submit(nopost, "diagnose", "--ask", home=home, stdin="1\n1\nq\n") for _ in range(6)]
    assert [each.result().returncode for each in started] == [0] * 6
    assert len(session_names()) == 6


@pytest.mark.slow
def test_free_name_and_list(terminal: Spawn) -> None:
    """Without a name the session is called by the day and a number; it is listed with its state."""
    for number in (1, 2):
        with terminal("diagnose") as t:
            start(t)
            t.say("1")
            t.say("q")
            assert t.end() == 0
        assert len(session_names()) == number
    with terminal("sessions") as t:
        assert t.end() == 0
    assert all(name in t.text for name in session_names())
    assert words(t.text).count(" open") == 2


@pytest.mark.slow
def test_other_edition(terminal: Spawn, knowledge: Knowledge, home: Path) -> None:
    """What this edition no longer knows is listed before it goes on; leaving there changes nothing."""
    with terminal("diagnose", "--name", "bench") as t:
        start(t)
        t.say("1")
        t.say("q")
    path = home / "sessions" / "bench.json"
    path.write_text(path.read_text(encoding="utf-8").replace("danger-signs", "gone-signs"), encoding="utf-8")
    before = path.read_bytes()
    with terminal("resume") as t:
        assert "no finding is called 'gone-signs'" in words(t.prompt())
        t.type("\x04")
        t.end()
    assert "Traceback" not in t.text
    assert path.read_bytes() == before
    with terminal("resume") as t:
        t.prompt()
        assert step(t.say("")) == 1
        t.say("s")
        t.say("q")
    assert given(kept(knowledge)) == [("danger-signs", UNKNOWN)]


@pytest.mark.slow
def test_plan_beside_the_step(terminal: Spawn, knowledge: Knowledge) -> None:
    """With the records of the parts the plan stands beside the step, `p` shows it in full, and it is there again on resume."""
    parts = ("--board", "tb-breakwater-x1", "--firmware", "1.9", "--cpu", "wrack-820")
    seen = [word for f, a in (("danger-signs", "none"), ("occasion", "new-build")) for word in ("--answer", f"{f}={a}")]
    with terminal("diagnose", "--name", "bench", "--ask", *parts, *seen, columns=60) as t:
        screen = words(start(t, 3))
        assert "1 step, 46 min: 1 Write with the board's button: 1.12 over 1.9." in screen
        assert "nopost plan --board tb-breakwater-x1 --firmware 1.9 --cpu wrack-820" in screen
        assert "p firmware plan in full" in screen
        plan = words(t.say("p"))
        assert "TBBX1.ROM" in plan
        assert "Check with nopost" in plan
        assert "nopost image FILE --board tb-breakwater-x1 --release 1.12" in plan
        assert "nopost verify --board tb-breakwater-x1 --cpu wrack-820 --firmware 1.12" in plan
        assert step(t.say("")) == 3
        t.say("q")
    with terminal("resume", "bench") as t:
        assert "46 min" in words(start(t, 3))
        t.say("q")
    assert kept(knowledge).history.parts.named() == {"board": "tb-breakwater-x1", "firmware": "1.9", "cpu": "wrack-820"}


@pytest.mark.slow
def test_failed_button_write_asks_on(terminal: Spawn) -> None:
    """'Nothing has changed' after the write leads to the lamp of the button, and then to the name on the stick."""
    parts = ("--board", "tb-breakwater-x1", "--firmware", "1.9", "--cpu", "wrack-820")
    given_ = {"danger-signs": "none", "occasion": "new-build", "response": "runs", "screen": "no-signal", "mishap": "none"}
    seen = [word for f, a in given_.items() for word in ("--answer", f"{f}={a}")]
    with terminal("diagnose", "--name", "bench", "--ask", *parts, *seen, "--tried", "write-firmware-button=same") as t:
        assert "lamp at the write button" in words(start(t, 7))
        screen = words(t.say("2"))
        assert "called exactly as the manual asks" in screen
        assert "file name TBBX1.ROM, letter for letter" in screen
        t.say("q")


@pytest.mark.slow
def test_no_plan_no_key(terminal: Spawn) -> None:
    """Without records `p` is no key."""
    with terminal("diagnose", "--name", "bench") as t:
        start(t)
        assert "fits" in words(t.say("p"))
        t.say("q")
