"""`nopost plan` through pipes: the contract of --json, the forms, and mistakes."""

from __future__ import annotations

import json
from collections.abc import Callable
from html.parser import HTMLParser
from pathlib import Path
from subprocess import CompletedProcess
from typing import Any

import pytest
from markdown_it import MarkdownIt

from firmware import dumps

Run = Callable[..., CompletedProcess[str]]
ROOT = Path(__file__).resolve().parents[2]
BREAKWATER = ("--board", "tb-breakwater-x1", "--firmware", "1.4", "--cpu", "wrack-820")
HARBOUR = ("--board", "tb-harbour-m2", "--firmware", "0.90", "--cpu", "kelp-450")
VOID = frozenset({"meta"})


class Page(HTMLParser):
    """Open elements and text."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.seen: list[str] = []
        self.text = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.seen.append(tag)
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.text += data


def data(run: Run, *words: str) -> dict[str, Any]:
    """What --json prints."""
    done = run("plan", *words, "--json")
    assert (done.returncode, done.stderr) == (0, "")
    found: dict[str, Any] = json.loads(done.stdout)
    return found


def test_json(run: Run) -> None:
    """Format, version and keys stay what they are."""
    found = data(run, *BREAKWATER)
    assert (found["format"], found["version"]) == ("nopost-plan", 1)
    assert set(found) == {
        *("format", "version", "board", "firmware", "fitted", "cpu", "to", "have", "possible", "ready", "effort", "best_in"),
        *("steps", "alternatives", "refused", "missing"),
    }
    step = {"title", "way", "to", "effort", "before", "action", "see", "after", "wrong", "hazards"}
    assert all(set(each) == step for each in found["steps"])
    assert [(each["way"], each["to"]) for each in found["steps"]] == [("write-button", "1.9"), ("write-button", "1.12")]
    assert all(set(each) == {"firmware", "fitted", "way", "to", "reason"} for each in found["refused"])
    assert all(set(each) == {"best_in", "effort", "moves"} for each in found["alternatives"])
    assert found["effort"] == {
        part: sum(each["effort"][part] for each in found["steps"]) for part in ("minutes", "money", "risk")
    }


@pytest.mark.slow
def test_no_route(run: Run) -> None:
    """What is missing comes in the data, and it is no error."""
    found = data(run, *HARBOUR, "--without", "borrow,shop")
    assert (found["possible"], found["steps"], found["effort"]) == (False, [], None)
    assert {each["kind"] for each in found["missing"]} == {"donor", "shop"}
    text = run("plan", *HARBOUR, "--without", "borrow,shop").stdout
    assert "Missing: a CPU to lend of family kelp-1" in text


@pytest.mark.slow
def test_donor_by_family_or_record(run: Run) -> None:
    """A donor is a record or a family."""
    for donor in ("kelp-120", "kelp-1"):
        found = data(run, *HARBOUR, "--have", f"stick,donor:{donor}", "--without", "shop", "--without", "borrow")
        assert [each["to"] for each in found["steps"]][1:5] == ["0.94", "0.98", "0.102", "0.110"]


@pytest.mark.slow
def test_fitted_and_to(run: Run) -> None:
    """The fitted CPU writes by itself; --to names the end; an empty socket is told with none."""
    found = data(run, "--board", "tb-harbour-m2", "--firmware", "0.90", "--cpu", "kelp-120", "--to", "0.98", "--without", "shop")
    assert [each["to"] for each in found["steps"]] == ["0.94", "0.98"]
    assert data(run, *BREAKWATER, "--fitted", "none")["fitted"] is None
    assert data(run, *BREAKWATER, "--fitted", "wrack-600")["fitted"] == "wrack-600"


@pytest.mark.slow
def test_from_dump(run: Run, tmp_path: Path) -> None:
    """Board, release and fitted CPU come from a table; what is given by hand goes before it; - is standard input."""
    path = tmp_path / "table.bin"
    path.write_bytes(dumps.table(version="0.98", processor=dumps.cpu(ProcessorVersion="Tidewater Kelp 120")))
    done = run("plan", "--from-dump", str(path), "--cpu", "kelp-450", "--json")
    found = json.loads(done.stdout)
    assert (found["board"], found["firmware"], found["fitted"]) == ("tb-harbour-m2", "0.98", "kelp-120")
    assert done.stderr == "From the table: board TB-Harbour M2 rev 1.1, release 0.98, CPU Kelp 120.\n"
    by_hand = run("plan", "--from-dump", str(path), "--cpu", "kelp-450", "--firmware", "0.102", "--fitted", "none", "--json")
    found = json.loads(by_hand.stdout)
    assert (found["firmware"], found["fitted"]) == ("0.102", None)
    for words, code, said in (
        (("--from-dump", str(tmp_path / "none")), 1, "cannot be read"),
        (("--from-dump", "-"), 1, "the file is empty"),
        (("--board", "tb-harbour-m2"), 2, "--from-dump"),
    ):
        done = run("plan", *words, "--cpu", "kelp-450")
        assert (done.returncode, done.stdout) == (code, "")
        assert said in done.stderr


@pytest.mark.slow
def test_currency(run: Run) -> None:
    """Money is named in every form."""
    for form in ("text", "md", "html"):
        told = run("plan", *BREAKWATER, "--currency", "crowns", "--format", form).stdout
        assert "money 3 crowns" in " ".join(told.split())
    assert run("plan", *BREAKWATER, "--currency", "c" * 21).returncode == 2


@pytest.mark.slow
def test_text_has_all_parts(run: Run) -> None:
    """The headings of a step and of the rest."""
    text = run("plan", *BREAKWATER).stdout
    for part in (
        "Have ready",
        "Step 2",
        "Caution",
        "Check before",
        "Do\n",
        "What to see",
        "Check after",
        "If it goes wrong",
        "Why not",
    ):
        assert part in text
    assert "[ ]" in text


@pytest.mark.slow
def test_markdown(run: Run) -> None:
    """One title, a box for each thing to do."""
    text = run("plan", *BREAKWATER, "--format", "md").stdout
    tokens = MarkdownIt().parse(text)
    assert [token.tag for token in tokens if token.type == "heading_open"].count("h1") == 1
    assert "- [ ] " in text


@pytest.mark.slow
def test_html_is_well_formed_and_escaped(run: Run, tmp_path: Path) -> None:
    """Markup in a record is text on the page."""
    record = (ROOT / "kb" / "boards" / "tb-breakwater-x1.yaml").read_text(encoding="utf-8")
    evil = "<script>alert(1)</script>&"
    path = tmp_path / "evil.yaml"
    path.write_text(
        record.replace("id: tb-breakwater-x1", "id: evil").replace("Shortens the first memory training.", f'"{evil}"'),
        encoding="utf-8",
    )
    done = run("plan", "--board", str(path), *BREAKWATER[2:], "--format", "html")
    assert (done.returncode, done.stderr) == (0, "")
    page = Page()
    page.feed(done.stdout)
    page.close()
    assert page.open == []
    assert "script" not in page.seen
    assert evil in page.text
    assert "\u2610" in page.text


@pytest.mark.slow
@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        ((*BREAKWATER[:2], "--firmware", "1.10", *BREAKWATER[4:]), 1, "did you mean"),
        ((*BREAKWATER, "--to", "9"), 1, "no release"),
        ((*BREAKWATER, "--have", "stik"), 1, "did you mean stick"),
        ((*BREAKWATER, "--have", "donor:nobody"), 1, "no CPU"),
        ((*BREAKWATER, "--have", "donor:kelp-120"), 1, "socket"),
        ((*BREAKWATER, "--without", "magic"), 1, "no way"),
        ((*BREAKWATER, "--per-minute", "nan"), 2, "number"),
        (BREAKWATER[:4], 2, "--cpu"),
    ],
)
def test_mistakes(run: Run, words: tuple[str, ...], code: int, said: str) -> None:
    """One clear line, no trace."""
    done = run("plan", *words)
    assert done.returncode == code
    assert said.lower() in done.stderr.lower()
    assert "Traceback" not in done.stderr


@pytest.mark.slow
def test_nothing_is_cut_at_60_columns(run: Run, tmp_path: Path) -> None:
    """Check sums and long headings stand whole."""
    text = run("plan", *BREAKWATER, env={"COLUMNS": "60"}).stdout
    assert "e936801901ea0481cba12c328a32eab7826cdd35785e3141e1a4a369cf1fa5f8" in "".join(text.split())
    cpu = tmp_path / "cpu.yaml"
    shipped = (ROOT / "kb" / "cpus" / "wrack-820.yaml").read_text(encoding="utf-8")
    cpu.write_text(shipped.replace("wrack-2", "wrack-of-a-family-that-nobody-knows"), encoding="utf-8")
    missing = run("plan", *BREAKWATER[:4], "--cpu", str(cpu), env={"COLUMNS": "60"}).stdout
    assert "that knows family wrack-of-a-family-that-nobody-knows; none in the record does" in " ".join(missing.split())
    for line in (text + missing).splitlines():
        assert len(line) <= 60
        assert "…" not in line


@pytest.mark.slow
def test_what_to_type_next(run: Run) -> None:
    """The commands that check image, stick and machine; where nothing has to be written, the way on."""
    text = " ".join(run("plan", *BREAKWATER).stdout.split())
    for said in (
        "nopost image FILE --board tb-breakwater-x1 --release 1.9",
        "nopost stick DEVICE --board tb-breakwater-x1",
        "nopost verify --board tb-breakwater-x1 --cpu wrack-820 --firmware 1.12",
    ):
        assert said in text
    ready = " ".join(run("plan", *BREAKWATER[:3], "1.15", *BREAKWATER[4:]).stdout.split())
    assert "nopost diagnose --board tb-breakwater-x1 --cpu wrack-820 --firmware 1.15" in ready
    assert "nopost verify" not in ready


@pytest.mark.slow
def test_none_in_any_writing(run: Run) -> None:
    """An empty socket."""
    assert data(run, *BREAKWATER, "--fitted", "NONE")["fitted"] is None
