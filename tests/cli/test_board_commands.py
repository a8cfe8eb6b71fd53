"""`nopost board new`, `import` and `show` through the real entry point: pipes, a terminal, mistakes."""

from __future__ import annotations

import json
import xml.etree.ElementTree as ET
from collections.abc import Callable
from pathlib import Path
from subprocess import CompletedProcess

import pytest
import yaml

from cli.terminal import Terminal, plain, words

Run = Callable[..., CompletedProcess[str]]
Start = Callable[..., Terminal]
LISTS = Path(__file__).resolve().parents[1] / "firmware" / "release_lists"
HARBOUR = str(LISTS / "harbour-comma.csv")
SHORT = "version,date,notes\nJ2,2031-05-17,Adds support for Kelp 2 CPUs. Cannot be rolled back.\nJ1,2031-01-02,First\n"
ANSWERS = (
    *("TB-Jetty Q5 rev 1.3", "1.3", "", "", "", "TB-Jetty Q5W", "reef-3", "ddr4", "A1, A2", "A2", "", "8, 4"),
    *("y", "n", "y", "n", "n", "edk2", "kelp-1", "", "J1", "2031-01-02", "", "", "n", ""),
)


@pytest.mark.slow
def test_import_to_standard_output(run: Run) -> None:
    """The record goes out, the talk goes to standard error, guesses are marked with their words."""
    done = run("board", "import", HARBOUR, "--yes")
    assert done.returncode == 0
    data = yaml.safe_load(done.stdout)
    assert [release["version"] for release in data["firmware"]["releases"]] == ["0.90", "0.94", "0.98", "0.102", "0.110"]
    assert '# guess: requires 0.98: "Update to 0.98 before installing this version."' in done.stdout
    assert "8 guesses" in done.stderr


@pytest.mark.slow
def test_import_from_standard_input(run: Run) -> None:
    """Pasted text."""
    done = run("board", "import", "-", stdin=SHORT)
    assert done.returncode == 0
    assert yaml.safe_load(done.stdout)["firmware"]["releases"][1]["one_way"] is True


def test_import_json(run: Run) -> None:
    """Format, version and keys stay what they are."""
    done = run("board", "import", HARBOUR, "--json")
    found = json.loads(done.stdout)
    assert (found["format"], found["version"]) == ("nopost-release-list", 1)
    assert set(found) == {"format", "version", "form", "encoding", "releases", "first", "remarks", "record", "written"}
    assert {"line", "version", "date", "guesses"} <= set(found["releases"][0])
    assert all(set(guess) == {"field", "value", "words", "why"} for each in found["releases"] for guess in each["guesses"])


@pytest.mark.slow
def test_import_into_a_record_that_plans_and_shows(run: Run, tmp_path: Path) -> None:
    """The written record is one that the other commands take."""
    out = tmp_path / "mine.yaml"
    (tmp_path / "list.csv").write_text("version,date,notes\n0.112,2031-09-01,Requires 0.110 or later.\n", encoding="utf-8")
    done = run(
        "board", "import", str(tmp_path / "list.csv"), "--board", "tb-harbour-m2", "--id", "mine", "--out", str(out), "--yes"
    )
    assert done.returncode == 0, done.stderr
    assert run("board", "show", str(out)).returncode == 0
    route = run("plan", "--board", str(out), "--firmware", "0.102", "--cpu", "kelp-450", "--to", "0.112", "--without", "shop")
    assert route.returncode == 0, route.stderr
    assert "0.110" in route.stdout


def test_import_never_overwrites(run: Run, tmp_path: Path) -> None:
    """Not even with --yes, which is about guesses."""
    out = tmp_path / "there.yaml"
    out.write_text("mine", encoding="utf-8")
    done = run("board", "import", HARBOUR, "--out", str(out), "--yes")
    assert (done.returncode, out.read_text(encoding="utf-8")) == (1, "mine")
    assert "exists already" in done.stderr


@pytest.mark.slow
@pytest.mark.parametrize(
    ("arguments", "stdin", "code", "said"),
    [
        (("import", "no-such-file.csv"), "", 1, "no-such-file.csv"),
        (("import", "-"), "nothing", 1, "no release was found"),
        (("import", "-"), "version,date\n1.1,soon\n1.0,2030-01-01\n", 1, "standard input:2: no-date"),
        (("import", "-", "--id", "My Board"), SHORT, 2, "such as my-board"),
        (("import", "-", "--board", "tb-harbor-m2"), SHORT, 1, "did you mean tb-harbour-m2"),
        (("import", "-", "--out", "no/such/folder.yaml"), SHORT, 1, "no such folder"),
        (("import", "-"), "version,date\n1.1,2030-01-02\n1.1,2030-05-02\n", 1, "release-twice"),
        (("import",), "", 2, "TABLE"),
        (("import", "."), "", 1, "folder"),
        (("show", "tb-harbor-m2"), "", 1, "did you mean tb-harbour-m2"),
        (("show", "tb-harbour-m2", "--format", "pdf"), "", 2, "pdf"),
        (("new",), "", 2, "no terminal"),
        (("nwe",), "", 2, "did you mean new"),
    ],
)
def test_mistakes(run: Run, arguments: tuple[str, ...], stdin: str, code: int, said: str) -> None:
    """One clear line, no trace."""
    done = run("board", *arguments, stdin=stdin)
    assert done.returncode == code
    assert said.lower() in " ".join(done.stderr.lower().split())
    assert "Traceback" not in done.stderr


@pytest.mark.slow
@pytest.mark.parametrize("columns", ["60", "200"])
def test_show(run: Run, columns: str) -> None:
    """Within its width, also in plain ASCII."""
    for env in ({}, {"PYTHONIOENCODING": "ascii"}):
        done = run("board", "show", "tb-harbour-m2", env={"COLUMNS": columns, **env})
        assert done.returncode == 0
        assert "no way back from it to an older one" in words(done.stdout)
        assert all(len(line) <= int(columns) for line in done.stdout.splitlines())
        assert done.stdout.isascii() == bool(env)


@pytest.mark.slow
def test_show_forms(run: Run) -> None:
    """SVG and JSON; no other form."""
    assert ET.fromstring(run("board", "show", "tb-harbour-m2", "--format", "svg").stdout).tag.endswith("svg")
    assert run("board", "show", "tb-harbour-m2", "--format", "dot").returncode == 2
    found = json.loads(run("board", "show", "tb-harbour-m2", "--json").stdout)
    assert (found["format"], found["version"]) == ("nopost-board", 1)
    assert {"id", "variant", "socket", "memory", "recovery", "first_families", "releases"} <= set(found)
    keys = {"version", "date", "adds", "drops", "knows", "needs", "missing", "one_way", "may_follow"}
    assert all(set(release) == keys for release in found["releases"])


def talk(t: Terminal, lines: tuple[str, ...]) -> None:
    """Answer question after question; a question stands at the end of what came after the last answer."""
    begin = 0
    for line in lines:
        t._read(begin, lambda new: plain(new).endswith(": ") and plain(new).strip(" \n") != "", "a question")
        begin = len(t.text) + len(line)
        t.type(f"{line}\n")


def leave(t: Terminal) -> None:
    """Press Ctrl-C, again only when nothing comes of it: between prompt and reading it can get lost."""
    for _ in range(20):
        t.type("\x03")
        while t._come(3.0):
            pass
        if "Kept:" in t.text:
            return


def test_import_asks(terminal: Start, tmp_path: Path) -> None:
    """y, n, a mistyped answer and an edit; nothing that was confirmed is marked."""
    (tmp_path / "list.csv").write_text(SHORT, encoding="utf-8")
    out = tmp_path / "out.yaml"
    with terminal("board", "import", str(tmp_path / "list.csv"), "--out", str(out), columns=60) as t:
        talk(t, ("what", "edit", "Kelp 2", "kelp-2, kelp-9", "n", "n"))
        assert t.end() == 0
        assert "type y, n, edit or all" in words(t.text)
        assert "Adds support for Kelp 2 CPUs." in words(t.text)
    text = out.read_text(encoding="utf-8")
    assert "guess" not in text
    (_, release) = yaml.safe_load(text)["firmware"]["releases"]
    assert (release["adds"], "one_way" in release) == (["kelp-2", "kelp-9"], False)


@pytest.mark.slow
def test_new_keeps_what_was_answered(terminal: Start, run: Run, tmp_path: Path, home: Path) -> None:
    """Ctrl-C among the releases; the next start goes on there, one answer is changed, and the record is written."""
    out = tmp_path / "jetty.yaml"
    with terminal("board", "new", "--out", str(out)) as t:
        talk(t, ANSWERS)
        t.wait_for("Version of release 2")
        leave(t)
        assert t.end() == 130
    assert not out.exists()
    assert (home / "drafts" / "board.yaml").is_file()
    rest = ("y", "J2", "17 May 2031", "kelp-2", "", "J1", "", "y", "n", "", "", "n", "n", "n", "16 MB", "n", "")
    with terminal("board", "new", "--out", str(out)) as t:
        talk(t, (*rest, "n", "title", "TB-Jetty of the workshop", "y"))
        assert t.end() == 0, plain(t.text)
    record = yaml.safe_load(out.read_text(encoding="utf-8"))
    assert (record["title"], record["recovery"]["chip_size"]) == ("TB-Jetty of the workshop", 16777216)
    assert [release["version"] for release in record["firmware"]["releases"]] == ["J1", "J2"]
    assert not (home / "drafts" / "board.yaml").exists()
    assert run("board", "show", str(out)).returncode == 0


def test_new_asks_before_it_overwrites(terminal: Start, tmp_path: Path) -> None:
    """No means no."""
    out = tmp_path / "there.yaml"
    out.write_text("mine", encoding="utf-8")
    with terminal("board", "new", "--out", str(out)) as t:
        talk(t, ("n",))
        assert t.end() == 130
    assert out.read_text(encoding="utf-8") == "mine"


def press_and_leave(t: Terminal) -> None:
    """Ctrl-C at a question, and the end."""
    leave(t)
    assert t.end() == 130
    assert "goes on from there" in words(t.text)


@pytest.mark.slow
def test_import_keeps_what_was_answered(terminal: Start, tmp_path: Path, home: Path) -> None:
    """Ctrl-C among the guesses, then in the rest of the record: nothing is asked twice, and no draft is left in the end."""
    (tmp_path / "list.csv").write_text(SHORT, encoding="utf-8")
    out = tmp_path / "out.yaml"
    start = ("board", "import", str(tmp_path / "list.csv"), "--out", str(out))
    with terminal(*start) as t:
        talk(t, ("n",))
        t.wait_for("No way back")
        press_and_leave(t)
    with terminal(*start) as t:
        talk(t, ("y", "y", "y", "TB-Jetty Q5 rev 1.3"))
        assert "CPU family gained" not in t.text
        t.wait_for("Revision:")
        press_and_leave(t)
    assert len(list((home / "drafts").iterdir())) == 2
    rest = ("1.3", "", "", "", "", "reef-3", "ddr4", "A1 A2", "A1, A2", "A2", "", "8", "y", "n", "n", "n", "n", "kelp-1")
    with terminal(*start) as t:
        talk(t, ("y", "y", *rest, "n", "n", "n", "", "n", ""))
        assert t.end() == 0, plain(t.text)
        assert "part them by commas: A1, A2" in words(t.text)
        assert "nopost board show" in words(t.text)
    record = yaml.safe_load(out.read_text(encoding="utf-8"))
    assert record["firmware"]["first_families"] == ["kelp-1"]
    assert ["adds" in each for each in record["firmware"]["releases"]] == [False, False]
    assert record["firmware"]["releases"][1]["one_way"] is True
    assert not list((home / "drafts").iterdir())


@pytest.mark.slow
def test_a_draft_for_another_list_is_left_alone(terminal: Start, tmp_path: Path) -> None:
    """What was answered belongs to one list."""
    for name, text in (("one", SHORT), ("two", SHORT.replace("Kelp 2", "Kelp 3"))):
        (tmp_path / name).write_text(text, encoding="utf-8")
    with terminal("board", "import", str(tmp_path / "one")) as t:
        talk(t, ("y",))
        t.wait_for("No way back")
        press_and_leave(t)
    with terminal("board", "import", str(tmp_path / "two")) as t:
        t.wait_for("right?")
        assert "answered before" not in t.text
