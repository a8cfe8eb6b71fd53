"""The command line through pipes: help, answers, JSON, mistakes, and odd surroundings."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import click
import pytest
from click.testing import CliRunner

from cli.terminal import ROOT, command, environment, words
from nopost.knowledge.model import Knowledge
from nopost.store.sessions import load, session_names
from nopost_cli.main import COMMANDS, cli

Run = Callable[..., "subprocess.CompletedProcess[str]"]

TOP = [
    "format",
    "version",
    "facts",
    "there",
    "knowledge",
    "verdict",
    "stopped",
    "causes",
    "areas",
    "unlisted",
    "next",
    "others",
    "plan",
    "rules",
    "derived",
    "ruled_out",
    "contradictions",
    "cautions",
    "misfits",
    "conflict",
    "firmware_plan",
]
STEP = ["kind", "id", "title", "together", "again", "effort", "cost", "expected_total", "chance", "cautions"]
SEEN = ("--answer", "occasion=after-memory-change", "--answer", "response=runs", "--answer", "screen=no-signal")


def assessment(run: Run, *words_: str) -> dict[str, Any]:
    """What --json gives."""
    done = run("diagnose", "--json", *words_)
    assert (done.returncode, done.stderr) == (0, "")
    data: dict[str, Any] = json.loads(done.stdout)
    return data


def refused(run: Run, *words_: str, code: int = 1) -> str:
    """The message of a command that is refused: no output, no traceback."""
    done = run(*words_)
    assert (done.returncode, done.stdout) == (code, ""), done.stderr
    assert "Traceback" not in done.stderr
    if code == 1:
        assert done.stderr.splitlines()[-1].startswith("nopost: ")
    return done.stderr


# -- help ---------------------------------------------------------------------------------------------------------------


def test_help(run: Run) -> None:
    """The help names every command with its line."""
    for option in ("--help", "-h"):
        done = run(option)
        assert (done.returncode, done.stderr) == (0, "")
        for name, line in COMMANDS.items():
            assert f"{name} {line}" in words(done.stdout)


def commands_of(group: click.Group, before: tuple[str, ...] = ()) -> Iterator[tuple[tuple[str, ...], click.Command]]:
    """Every command with the words that call it; a group itself when it does something."""
    for name in group.list_commands(click.Context(group)):
        command = group.get_command(click.Context(group), name)
        assert command is not None
        if not isinstance(command, click.Group) or command.invoke_without_command:
            yield (*before, name), command
        if isinstance(command, click.Group):
            yield from commands_of(command, (*before, name))


EVERY = dict(commands_of(cli))


@pytest.mark.parametrize("name", EVERY, ids=" ".join)
def test_help_of_each_command(name: tuple[str, ...]) -> None:
    """Each command explains itself and each of its options."""
    done = CliRunner().invoke(cli, [*name, "--help"])
    assert (done.exit_code, done.stderr) == (0, "")
    assert f"{name[-1]} [OPTIONS]" in done.stdout
    shown = words(done.stdout)
    options = [p for p in EVERY[name].params if isinstance(p, click.Option)]
    assert options
    for option in options:
        assert option.help is not None
        assert option.opts[0] in shown
        assert words(option.help).replace("- ", "-") in shown.replace("- ", "-")  # a line may end at a hyphen


HEAVY = ("experta", "jinja2", "jsonschema", "networkx", "numpy", "rich", "yaml")
ROOMS = sorted(f"nopost.{path.parent.name}" for path in (ROOT / "engine" / "nopost").glob("*/__init__.py"))
IMPORTS = """
import sys
import click
from nopost_cli.main import cli

def look(group, before=()):
    for name in group.list_commands(click.Context(group)):
        known = set(sys.modules)
        command = group.get_command(click.Context(group), name)
        loaded = sorted((set(sys.modules) - known) & set(sys.argv[1:]))
        if loaded:
            print(*before, name, "loads", *loaded)
        if isinstance(command, click.Group):
            look(command, (*before, name))

look(cli)
"""


def test_help_needs_neither_engine_nor_libraries(tmp_path: Path) -> None:
    """To be asked for its help a command loads no room of the engine and no large library: that is what keeps it quick."""
    assert "nopost.knowledge" in ROOMS
    line = [sys.executable, "-c", IMPORTS, *HEAVY, *ROOMS]
    done = subprocess.run(line, env=environment(tmp_path), cwd=tmp_path, capture_output=True, encoding="utf-8")
    assert (done.returncode, done.stderr, done.stdout) == (0, "", "")


def test_version(run: Run) -> None:
    """--version says the version."""
    assert run("--version").stdout.startswith("nopost")


@pytest.mark.slow
@pytest.mark.parametrize(("typed", "near"), [("diagnos", "diagnose"), ("resum", "resume"), ("session", "sessions")])
def test_unknown_command(run: Run, typed: str, near: str) -> None:
    """A misspelt command is answered with the one that was meant."""
    assert f"did you mean {near}?" in refused(run, typed, code=2)


@pytest.mark.slow
def test_hopeless_command(run: Run) -> None:
    """Where nothing is near, all commands are named."""
    told = refused(run, "xyzzy", code=2)
    assert all(name in told for name in COMMANDS)
    assert "No such option" in refused(run, "--xyzzy", code=2)
    assert "No such option" in refused(run, "diagnose", "--anwser", "x=y", code=2)


# -- answers ------------------------------------------------------------------------------------------------------------


@pytest.mark.slow
def test_answers_on_the_line_and_in_a_file(run: Run, tmp_path: Path) -> None:
    """--answer, a mapping, JSON and a case file give the same assessment."""
    pairs = {"occasion": "after-memory-change", "response": "runs", "screen": "no-signal"}
    wanted = assessment(run, *SEEN)
    for name, text in {
        "a.yaml": "".join(f"{finding}: {answer}\n" for finding, answer in pairs.items()),
        "a.json": json.dumps(pairs),
        "case.yaml": "answers:\n" + "".join(f"  {finding}: {answer}\n" for finding, answer in pairs.items()),
    }.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
        assert assessment(run, "--answers", str(tmp_path / name)) == wanted


@pytest.mark.slow
def test_tried(run: Run, knowledge: Knowledge) -> None:
    """A fix that did not help is evidence against what it mends, and is not proposed again."""
    before = {cause["id"]: cause["probability"] for cause in assessment(run, *SEEN)["causes"]}
    data = assessment(run, *SEEN, "--tried", "reseat-memory=same")
    after = {cause["id"]: cause["probability"] for cause in data["causes"]}
    assert after["memory-not-seated"] < before["memory-not-seated"]
    assert "reseat-memory" not in [step["id"] for step in (data["next"], *data["others"])]


@pytest.mark.slow
def test_records(run: Run) -> None:
    """Board, CPU, release, image, slots and memory type become facts."""
    parts = ("--board", "tb-harbour-m2", "--cpu", "kelp-450", "--firmware", "0.94", "--slots", "a1,b1".upper())
    data = assessment(run, *SEEN, *parts, "--memory-type", "ddr5", "--image-for", "TB-Harbour M2W")
    facts = data["facts"]
    assert (facts["firmware-knows-cpu"], facts["slots-by-manual"], facts["memory-type-fits"]) == ("no", "other", "no")
    assert facts["image-variant"] == "other"
    assert data["derived"]["cpu-listed"]["rule"].startswith("record-")


@pytest.mark.slow
def test_record_files(run: Run) -> None:
    """Records may be files."""
    board, cpu = ROOT / "kb" / "boards" / "tb-slipway-a1.yaml", ROOT / "kb" / "cpus" / "dulse-20.yaml"
    data = assessment(run, *SEEN, "--board", str(board), "--cpu", str(cpu))
    assert data["facts"] == assessment(run, *SEEN, "--board", "tb-slipway-a1", "--cpu", "dulse-20")["facts"]


@pytest.mark.slow
def test_records_alone(run: Run) -> None:
    """Records without an answer are assessed as well."""
    assert run("diagnose", "--board", "tb-harbour-m2").returncode == 0


@pytest.mark.slow
def test_case_file(run: Run) -> None:
    """A shipped case brings answers, fixes and records; the line can add to it."""
    case = str(ROOT / "kb" / "cases" / "tb-new-chip-old-release.yaml")
    data = assessment(run, "--answers", case)
    assert "firmware-lacks-cpu-support" in [cause["id"] for cause in data["causes"][:3]]
    assert data["facts"]["firmware-knows-cpu"] == "no"
    assert assessment(run, "--answers", case, "--firmware", "0.110")["facts"]["firmware-knows-cpu"] == "yes"


@pytest.mark.slow
def test_last_answer_counts(run: Run, knowledge: Knowledge) -> None:
    """Answers given twice: the later one corrects."""
    first = knowledge.findings["screen"].answer_ids[0]
    once = assessment(run, "--answer", "screen=no-signal")
    assert assessment(run, "--answer", f"screen={first}", "--answer", "screen=no-signal")["causes"] == once["causes"]


@pytest.mark.slow
def test_have_and_per_minute(run: Run) -> None:
    """What is at hand costs nothing; a dearer minute makes steps dearer."""
    data = assessment(run, *SEEN, "--per-minute", "100")
    assert data["next"]["cost"] > assessment(run, *SEEN, "--per-minute", "0.01")["next"]["cost"]
    assert run("diagnose", *SEEN, "--have", "spare-memory", "--currency", "EUR").returncode == 0


# -- JSON ---------------------------------------------------------------------------------------------------------------


def test_json_contract(run: Run) -> None:
    """The keys that scripts rely on: they may grow in number, with a new version, but none may go."""
    data = assessment(run, *SEEN)
    assert list(data) == TOP
    assert (data["format"], data["version"]) == ("nopost-assessment", 1)
    for cause in data["causes"]:
        assert list(cause) == ["id", "title", "probability"]
    assert all(list(area) == ["id", "title", "probability"] for area in data["areas"])
    assert all(list(entry) == ["id", "question", "choices", "told", "by"] for entry in data["there"])
    for step in (data["next"], *data["others"]):
        assert list(step) == STEP
        assert list(step["effort"]) == ["minutes", "money", "risk"]
        for caution in step["cautions"]:
            assert list(caution) == ["id", "title", "caution", "stop", "stops_now", "in_full"]
    assert all(list(fix) == ["action", "title", "needed"] for fix in data["plan"])
    assert all(list(rule) == ["id", "because", "support"] for rule in data["rules"])
    chances = [cause["probability"] for cause in data["causes"]]
    assert chances == sorted(chances, reverse=True)


@pytest.mark.slow
def test_same_with_and_without_json(run: Run) -> None:
    """The screen and the JSON say the same causes, chances and next step."""
    data = assessment(run, *SEEN)
    shown = run("diagnose", *SEEN, env={"COLUMNS": "200"}).stdout
    assert words(data["next"]["title"]) in words(shown)
    for cause in data["causes"][:3]:
        line = next(line for line in shown.splitlines() if cause["title"] in line)
        assert f"{cause['probability'] * 100:.0f} %" in line


@pytest.mark.slow
def test_json_of_sessions_and_report(run: Run) -> None:
    """The other two envelopes."""
    empty = json.loads(run("sessions", "--json").stdout)
    assert list(empty) == ["format", "version", "folder", "sessions"]
    run("diagnose", "--name", "piped", stdin="1\nq\n")
    listed = json.loads(run("sessions", "--json").stdout)["sessions"]
    assert [list(row) for row in listed] == [["name", "created", "answers", "tried", "state", "end"]]
    report = json.loads(run("report", "piped", "--format", "json").stdout)
    keys = ["name", "created", "machine", "facts", "events", "dropped", "assessment", "there", "records", "firmware_plan"]
    assert list(report) == ["format", "version", *keys]
    assert (report["format"], list(report["assessment"])) == ("nopost-report", TOP[4:-1])


# -- mistakes -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (["--answer", "scren=no-signal"], "no finding is called 'scren'; did you mean screen"),
        (["--answer", "screen=no-signl"], "did you mean no-signal?"),
        (["--answer", "screen=zzz"], "no answer to screen is called 'zzz'"),
        (["--answer", "screen"], "write it as NAME=VALUE"),
        (["--tried", "reseat-memry=same"], "did you mean reseat-memory"),
        (["--tried", "reseat-memory=worse"], "there are starts, same, changed"),
        (["--tried", "test-supply-alone=same"], "no fix is called"),
        (["--have", "multimetre"], "did you mean multimeter?"),
        (["--board", "tb-harbor-m2"], "did you mean tb-harbour-m2"),
        (["--cpu", "kelp-45"], "did you mean kelp-450"),
        (["--board", "tb-harbour-m2", "--firmware", "0.11"], "did you mean"),
        (["--board", "tb-harbour-m2", "--slots", "A1,A3"], "did you mean"),
        (["--board", "tb-harbour-m2", "--slots", "A2,A2"], "twice"),
        (["--board", "x" * 300], "no board is called"),
        (["--board", "none.yaml"], "no-file"),
        (["--answers", "none.yaml"], "no-file"),
        (["--answers", "."], "not a plain file"),
        (["--kb", "/nowhere"], "no-folder"),
        (["--name", "../x", "--ask"], "cannot be a session's name"),
    ],
)
def test_mistake(run: Run, given: list[str], said: str) -> None:
    """One clear line, exit code 1."""
    assert said in refused(run, "diagnose", *given)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("given", "said"),
    [
        (["--firmware", "0.90"], "--board"),
        (["--per-minute", "0"], "--per-minute"),
        (["--per-minute", "nan"], "--per-minute"),
        (["--per-minute", "inf"], "--per-minute"),
        (["--per-minute", "much"], "--per-minute"),
        (["--currency", "x" * 21], "at most 20 characters"),
    ],
)
def test_wrong_use(run: Run, given: list[str], said: str) -> None:
    """Wrong use of the options, exit code 2."""
    assert said in refused(run, "diagnose", *given, code=2)


@pytest.mark.slow
def test_mistakes_of_the_other_commands(run: Run, home: Path) -> None:
    """Sessions that are not there, or cannot be read."""
    assert "nopost diagnose" in refused(run, "resume")
    assert "nopost diagnose" in refused(run, "report")
    run("diagnose", "--name", "bench-1", stdin="1\n")
    assert "did you mean bench-1" in refused(run, "report", "bench-2")
    assert "--format" in refused(run, "report", "--format", "pdf", code=2)
    assert "already" in refused(run, "diagnose", "--ask", "--name", "bench-1")
    (home / "sessions" / "bench-1.json").write_text("{", encoding="utf-8")
    assert "damaged or cut short" in refused(run, "resume", "bench-1")
    assert "cannot be read" in words(run("sessions").stdout)


@pytest.mark.slow
def test_broken_knowledge_base(run: Run, tmp_path: Path) -> None:
    """Every problem of every file is told as file:line: code: message, and nothing is done."""
    broken = tmp_path / "kb"
    shutil.copytree(ROOT / "kb", broken)
    screen = broken / "findings" / "screen.yaml"
    screen.write_text(screen.read_text(encoding="utf-8") + "sed: x\n", encoding="utf-8")
    (broken / "causes" / "board-dead.yaml").write_text("id: board-dead\nid: board-dead\n", encoding="utf-8")
    (broken / "hazards" / "esd.yaml").write_text("id: esd\n title: [\n", encoding="utf-8")
    told = refused(run, "diagnose", "--kb", str(broken), *SEEN).splitlines()
    assert [":".join(line.split(":")[:3]) for line in told[:-1]] == [
        "causes/board-dead.yaml:2: duplicate-key",
        f"findings/screen.yaml:{len(screen.read_text(encoding='utf-8').splitlines())}: schema-additionalProperties",
        "hazards/esd.yaml:2: yaml-syntax",
    ]
    assert told[-1].startswith("nopost: 3 problems")


@pytest.mark.slow
def test_a_long_mistake_is_told_shortly(run: Run) -> None:
    """What is quoted may be of any length; the message begins and ends as it should."""
    for given, code in ((["--answer", f"screen={'z' * 50_000}"], 1), (["--per-minute", "z" * 50_000], 2)):
        told = refused(run, "diagnose", *given, code=code)
        assert len(told) < 2100
        assert " … " in told
    assert told.rstrip().endswith("is not a valid float range.")


# -- surroundings -------------------------------------------------------------------------------------------------------


@pytest.mark.slow
def test_lines_from_a_pipe(run: Run, knowledge: Knowledge) -> None:
    """Answers may come from a pipe; when they end, the session is kept."""
    done = run("diagnose", "--name", "piped", stdin="1\nzzz\n\n1\n")
    assert (done.returncode, done.stderr) == (0, "")
    assert "Kept. Go on with: nopost resume piped" in done.stdout
    assert len(load("piped", knowledge).history.events) == 2


@pytest.mark.slow
@pytest.mark.parametrize("codes", ["0x00", "1-3-1", "memory lamp on"])
def test_codes_for_a_knowledge_base_that_does_not_ask_for_them(run: Run, codes: str) -> None:
    """The tiny one knows no finding that codes answer: they say nothing there, given or typed."""
    tiny = str(ROOT / "tests" / "bad_kb" / "_good")
    assert "too little to weigh causes" in refused(run, "diagnose", "--kb", tiny, "--codes", codes)
    done = run("diagnose", "--kb", tiny, "--name", "tiny", stdin=f"{codes}\nq\n")
    assert (done.returncode, done.stderr) == (0, "")
    assert "fits no choice" in words(done.stdout)


@pytest.mark.slow
def test_the_board_is_named_with_its_revision_once(run: Run, knowledge: Knowledge) -> None:
    """The variant as printed holds it already."""
    run("diagnose", "--name", "board", "--ask", "--board", "tb-harbour-m2", stdin="q\n")
    data = json.loads(run("report", "board", "--format", "json").stdout)
    assert data["machine"]["board"] == knowledge.boards["tb-harbour-m2"].variant


@pytest.mark.slow
def test_no_terminal(run: Run) -> None:
    """With nobody to ask and nothing given it says what to do, and leaves no session behind."""
    told = refused(run, "diagnose", code=2)
    assert "there is no terminal to ask on: give --answer" in told
    assert session_names() == []


def closed(home: Path, redirection: str, *words_: str) -> subprocess.CompletedProcess[str]:
    """Run under a shell with a stream closed or led elsewhere."""
    line = " ".join(command(*words_))
    return subprocess.run(["bash", "-c", f"{line} {redirection}"], capture_output=True, encoding="utf-8", env=environment(home))


@pytest.mark.slow
def test_closed_streams(home: Path) -> None:
    """Neither closed input nor closed output is met with a traceback."""
    done = closed(home, "<&-", "diagnose")
    assert (done.returncode, "no terminal to ask on" in done.stderr) == (2, True)
    for given in (SEEN, ("--json", *SEEN)):
        done = closed(home, ">&-", "diagnose", *given)
        assert (done.returncode, done.stderr) == (0, "")
    assert closed(home, "2>&-", "diagnose", "--answer", "x=y").returncode == 1


@pytest.mark.slow
def test_full_output(home: Path) -> None:
    """Output to a full disk is told in a line."""
    done = closed(home, ">/dev/full", "diagnose", *SEEN)
    assert done.returncode == 1
    assert "No space left on device" in done.stderr
    assert "Traceback" not in done.stderr


@pytest.mark.slow
@pytest.mark.parametrize("given", [SEEN, ("--json", *SEEN)])
def test_reader_that_has_gone(home: Path, given: tuple[str, ...]) -> None:
    """`| head -1` ends it without a word."""
    done = closed(home, "| head -1", "diagnose", *given)
    assert (len(done.stdout.splitlines()), done.stderr) == (1, "")


@pytest.mark.slow
@pytest.mark.parametrize("env", [{}, {"NO_COLOR": "1"}, {"TERM": "dumb"}])
def test_no_escape_codes_in_pipes(run: Run, env: dict[str, str]) -> None:
    """What goes into a file is plain text."""
    run("diagnose", "--name", "piped", stdin="1\n?\n\nw\n\nc\n\n", env=env)
    for given in (("diagnose", *SEEN), ("sessions",), ("report", "piped")):
        done = run(*given, env=env)
        assert done.returncode == 0
        assert "\x1b" not in done.stdout


@pytest.mark.slow
@pytest.mark.parametrize(
    "env",
    [
        {"PYTHONIOENCODING": "ascii"},
        {"PYTHONIOENCODING": "latin-1"},
        {"LC_ALL": "C", "PYTHONCOERCECLOCALE": "0", "PYTHONUTF8": "0"},
    ],
    ids=["ascii", "latin-1", "strict-C"],
)
def test_poor_encodings(home: Path, env: dict[str, str]) -> None:
    """Without the letters for it, it still says everything; what is JSON stays JSON. In the C locale Python takes UTF-8 (PEP 538
    and 540) unless it is told not to."""
    more = environment(home, **env)
    for words_ in (("diagnose", *SEEN), ("diagnose", "--json", *SEEN), ("diagnose", "--name", "poor")):
        done = subprocess.run(command(*words_), input=b"1\n\xff\xe9\n?\n\nw\n\nc\n\no\n\nq\n", capture_output=True, env=more)
        assert (done.returncode, done.stderr) == (0, b"")
        shown = done.stdout.decode(more.get("PYTHONIOENCODING", "utf-8"))
        assert "--json" not in words_ or json.loads(shown)["format"]
    for form in ("md", "html", "json"):
        assert subprocess.run(command("report", "poor", "--format", form), capture_output=True, env=more).returncode == 0
    os.unlink(home / "sessions" / "poor.json")


@pytest.mark.slow
@pytest.mark.parametrize("columns", ["0", "1", "999999"])
def test_columns_that_cannot_be(run: Run, columns: str) -> None:
    """Whatever COLUMNS says, the whole answer is there and no longer than it need be."""
    done = run("diagnose", *SEEN, env={"COLUMNS": columns})
    assert done.returncode == 0
    assert "Next step" in words(done.stdout)
    assert max(map(len, done.stdout.splitlines())) <= 1000


@pytest.mark.slow
def test_text_of_the_person_cannot_control_the_terminal(run: Run) -> None:
    """Escape codes in what is typed or given are not passed on."""
    evil = "\x1b[2J\x07"
    done = run("diagnose", "--currency", evil, "--name", "evil", stdin=f"{evil}\n1\nt\n{evil}\nq\n")
    assert done.returncode == 0
    for given in (("diagnose", "--answer", f"{evil}=x"), ("diagnose", "--board", evil), ("diagnose", *SEEN, "--currency", evil)):
        done = run(*given)
        assert "\x1b" not in done.stdout + done.stderr
        assert "\x07" not in done.stdout + done.stderr


@pytest.mark.slow
def test_report_of_a_hand_made_session(run: Run, home: Path) -> None:
    """Control characters, half characters and markup in a session's file come out harmless."""
    run("diagnose", "--name", "odd", stdin="1\nq\n")
    path = home / "sessions" / "odd.json"
    data = json.loads(path.read_text(encoding="utf-8"))
    data["records"] = {"firmware": "\x1b[2J\ud800<script>x</script>\x07", "cpu": "\x9b2J"}
    path.write_text(json.dumps(data), encoding="utf-8")
    for form in ("md", "html", "json", "svg"):
        done = run("report", "odd", "--format", form)
        assert (done.returncode, done.stderr) == (0, "")
        assert not [c for c in done.stdout if (c < " " and c not in "\n\t") or "\x7f" <= c <= "\x9f"], form
        assert form not in ("html", "svg") or "<script" not in done.stdout
        assert form != "md" or "\\<script\\>" in done.stdout
    assert run("resume", "odd", stdin="1\nq\n").returncode == 0


@pytest.mark.slow
@pytest.mark.parametrize("folder", ["/dev/null/x", "~nobody-of-that-name", "x" * 300])
def test_odd_data_folders(run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, folder: str) -> None:
    """A data folder that cannot be: assessing works, the list is empty or refused in a line."""
    monkeypatch.chdir(tmp_path)
    env = {"NOPOST_HOME": folder}
    assert run("diagnose", *SEEN, env=env).returncode == 0
    done = run("sessions", env=env)
    assert "Traceback" not in done.stderr
    assert done.returncode == 0 or len(done.stderr.splitlines()) == 1


@pytest.mark.slow
def test_answers_are_held_when_the_disk_refuses(run: Run) -> None:
    """Nothing can be kept: the answers stand in the last line, to go on from."""
    done = run("diagnose", "--name", "held", stdin="1\n2\n", env={"NOPOST_HOME": "/dev/null/x"})
    assert done.returncode == 1
    assert "Not kept" in done.stdout
    assert "nopost diagnose --ask --answer danger-signs=none --answer occasion=" in words(done.stdout)
