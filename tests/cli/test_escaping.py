"""Text from outside that would control a terminal, a page, a drawing or a spreadsheet, through every command and every form.

A tiny knowledge base is written twice: with markup in every text a person reads, and with letters in its place. What comes out
must have the same elements both times. Controls: ECMA-48 (C0, C1) and Bidi_Control of Unicode (UAX 9); formulas in tables: OWASP,
"CSV Injection".
"""

from __future__ import annotations

import csv
import itertools
import json
import os
import re
import shutil
import sys
from collections.abc import Callable
from html.parser import HTMLParser
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest
import yaml

from cli.terminal import Terminal, words
from firmware import dumps, images
from nopost.diagnosis.history import EventKind
from nopost.knowledge.model import Knowledge
from nopost.knowledge.yaml_reader import parse_yaml
from nopost.loading import load_knowledge
from nopost.store.sessions import load, new_session, save
from nopost.text import escaped
from nopost_cli.main import main
from nopost_cli.shared.terminal import clean
from stick_images import SECTOR, fat, long, mbr, short

GOOD = Path(__file__).parents[1] / "bad_kb" / "_good"
BIDI = "\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"
CONTROL = re.compile(f"[\x00-\x09\x0b-\x1f\x7f-\x9f\u2028\u2029{BIDI}\ud800-\udfff]")
"""All that must not come to a terminal but the end of a line."""
CONTROLS = "a\x1b[31mred\x1b]8;;http://x.example\x1b\\link\x07\x9b2J\x90q\x9cb\u202ecba\u2066\x00\r\ttab\x7f\u2028"
MARKUP = (
    "<script>alert(1)</script>",
    "]]> --> <!--",
    "\"><img src=x onerror='x'>",
    "&lt; & &amp;#0;",
    "[red]x[/red] [link=x]y",
    "javascript:x() [a](javascript:x)",
    "=1+1 @x +1 -1 \\ \"q\" 'q'",
    "{x} %s $HOME `x` ; }} ]; \\N",
    "w" * 60,
)
READ = {"title", "question", "text", "proof", "explanation", "caution", "because", "meaning", "resolution", "steps", "hand_over"}
"""Keys whose texts people read and no program does."""


def _hurt(value: Any, text: Callable[[], str], here: bool = False) -> Any:
    """The data of a file with other words wherever a person reads."""
    if isinstance(value, dict):
        return {k: _hurt(v, text, k in READ or (here and isinstance(v, dict))) for k, v in value.items()}
    if isinstance(value, list):
        return [_hurt(v, text, here) for v in value]
    return text() if here and isinstance(value, str) else value


def _base(folder: Path, hostile: bool) -> Path:
    shutil.copytree(GOOD, folder)
    number = itertools.count()

    def text() -> str:
        n = next(number)
        marked = MARKUP[n % len(MARKUP)]
        return f"{marked if hostile else re.sub('[^ 0-9A-Za-z]', 'x', marked)} {n}"

    for path in sorted(folder.rglob("*.yaml")):
        data, problems = parse_yaml(path.read_text(encoding="utf-8"), path.name)
        assert problems == []
        path.write_text(json.dumps(_hurt(data.data, text), indent=1), encoding="utf-8")
    base = folder / "base.yaml"
    data = json.loads(base.read_text(encoding="utf-8"))
    name = "<i>n</i> ]]> [a](b) ![c](d) *e* `f`"
    base.write_text(json.dumps({**data, "name": name if hostile else re.sub("[^ a-z]", "x", name)}), encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def bases(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """With markup, and with letters in its place."""
    folder = tmp_path_factory.mktemp("bases")
    return _base(folder / "hostile", True), _base(folder / "letters", False)


Run = Callable[..., "tuple[int, str, str]"]


@pytest.fixture
def called(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    """Run nopost in this process: exit code, standard output, standard error."""

    def run(*given: object) -> tuple[int, str, str]:
        monkeypatch.setattr(sys, "argv", ["nopost", *map(str, given)])
        capsys.readouterr()
        with pytest.raises(SystemExit) as ended:
            main()
        out, err = capsys.readouterr()
        assert "Traceback" not in err
        return int(ended.value.code or 0), out, err

    return run


def kept(kb: Path) -> None:
    """A session with words of the person's own in it, as a file can hold them."""
    knowledge = load_knowledge(kb)
    session = new_session("bench", knowledge).add(EventKind.ANSWER, "fan", "still").add(EventKind.TRIED, "push-plug", "same")
    path = save(session).name
    assert path == "bench"


class _Tags(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.found: list[tuple[str, tuple[str, ...]]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        assert not [value for _, value in attrs if value and "javascript" in value]
        self.found.append((tag, tuple(name for name, _ in attrs)))

    def handle_endtag(self, tag: str) -> None:
        self.found.append((f"/{tag}", ()))

    def handle_comment(self, data: str) -> None:
        self.found.append(("comment", ()))


def html_tags(text: str) -> list[tuple[str, tuple[str, ...]]]:
    """Tags and the names of their attributes; in a drawing within, only which there are: lines break elsewhere."""
    parser = _Tags()
    parser.feed(text)
    parser.close()
    if "<svg" in text:
        return sorted(set(parser.found))
    return parser.found


def svg_tags(text: str) -> list[tuple[str, tuple[str, ...]]]:
    """Which elements with which attributes there are: texts of other letters can take another number of lines."""
    return sorted({(element.tag, tuple(sorted(element.attrib))) for element in ElementTree.fromstring(text).iter()})


def json_keys(text: str) -> Any:
    """The shape of JSON."""

    def shape(value: Any) -> Any:
        if isinstance(value, dict):
            return {key: shape(inner) for key, inner in value.items()}
        return [shape(inner) for inner in value] if isinstance(value, list) else type(value).__name__

    return shape(json.loads(text))


def any_text(text: str) -> bool:
    """Text has no shape to keep."""
    return bool(text)


def markdown_tags(text: str) -> list[str]:
    """Markdown (CommonMark) with raw HTML allowed: the elements that come of it, without those of line ends."""
    from markdown_it import MarkdownIt

    tokens = MarkdownIt("commonmark").enable("table").parse(text)
    inner = [child.type for token in tokens for child in token.children or () if child.type not in ("text", "softbreak")]
    return [token.type for token in tokens] + sorted(set(inner) - {"text_special"})


Form = Callable[[str], Any]
OUTPUTS: list[tuple[str, Form]] = [
    ("diagnose --kb KB --answer fan=still --answer moved=yes", any_text),
    ("diagnose --kb KB --answer fan=still --json", json_keys),
    ("report bench --kb KB", markdown_tags),
    ("report bench --kb KB --format html", html_tags),
    ("report bench --kb KB --format svg", svg_tags),
    ("report bench --kb KB --format json", json_keys),
    ("sessions --kb KB", any_text),
    ("sessions --kb KB --json", json_keys),
    ("codes list --kb KB", any_text),
    ("decode LOG --table tiny --kb KB", any_text),
    ("decode LOG --table tiny --kb KB --format html", html_tags),
    ("decode LOG --table tiny --kb KB --format svg", svg_tags),
    ("decode LOG --table tiny --kb KB --json", json_keys),
    ("board show plank-1 --kb KB", any_text),
    ("board show plank-1 --kb KB --format svg", svg_tags),
    ("board show plank-1 --kb KB --json", json_keys),
    ("plan --board plank-1 --firmware 1.0 --cpu reed-2 --kb KB", any_text),
    ("plan --board plank-1 --firmware 1.0 --cpu reed-2 --kb KB --format md", markdown_tags),
    ("plan --board plank-1 --firmware 1.0 --cpu reed-2 --kb KB --format html", html_tags),
    ("plan --board plank-1 --firmware 1.0 --cpu reed-2 --kb KB --json", json_keys),
    ("kb check KB", any_text),
    ("kb check KB --json", any_text),
    ("kb check KB --sarif -", any_text),
    ("kb try --kb KB", any_text),
    ("kb try --kb KB --json", json_keys),
    ("kb try --score CASES --list --kb KB", any_text),
    ("kb try --score CASES --json --kb KB", json_keys),
    ("kb simulate --runs 3 --workers 1 --kb KB", any_text),
    ("kb simulate --runs 3 --workers 1 --json --kb KB", json_keys),
    ("kb export --bif - --kb KB", any_text),
    ("codes show tiny --kb KB", any_text),
    ("codes show tiny --json --kb KB", json_keys),
    ("rails +9V=9 --kb KB", any_text),
    ("kb compare KB GOOD --runs 0", markdown_tags),
    ("kb compare KB GOOD --runs 0 --format html", html_tags),
    ("kb draw map --out OUT.svg --kb KB", svg_tags),
    ("kb draw chart --out OUT.svg --kb KB", svg_tags),
    ("kb draw page loose-plug --out OUT.svg --kb KB", svg_tags),
    ("kb try --score CASES --chart OUT.svg --kb KB", svg_tags),
    ("drill sheet --count 1 --kb KB", markdown_tags),
    ("drill sheet --count 1 --kb KB --format html", html_tags),
]


@pytest.mark.slow
@pytest.mark.parametrize(("line", "form"), OUTPUTS, ids=[line for line, _ in OUTPUTS])
def test_markup_in_a_knowledge_base(bases: tuple[Path, Path], called: Run, tmp_path: Path, line: str, form: Form) -> None:
    """The same elements as with letters in its place, and nothing that controls a terminal."""
    shapes = []
    log = tmp_path / "log.txt"
    log.write_text("00 00 00", encoding="utf-8")
    for n, kb in enumerate(bases):
        out = tmp_path / f"{n}.svg"
        if "bench" in line or "sessions" in line:
            (Path(os.environ["NOPOST_HOME"]) / "sessions" / "bench.json").unlink(missing_ok=True)
            kept(kb)
        given = {"KB": kb, "CASES": kb / "cases", "GOOD": GOOD, "LOG": log, "OUT.svg": out}
        code, shown, said = called(*(given.get(word, word) for word in line.split()))
        assert code == 0 or line.startswith(("kb check", "kb try")), said
        assert not CONTROL.search(shown + said)
        written = [path.read_text(encoding="utf-8") for path in sorted(tmp_path.glob(f"{n}*.svg"))]
        assert bool(written) == ("OUT.svg" in line)
        shapes.append([form(text) for text in written or [shown]])
        if "--json" in line or "sarif" in line:
            json.loads(shown)
    assert shapes[0] == shapes[1]


@pytest.fixture
def shown_files(tmp_path: Path) -> dict[str, Path]:
    """Files with controls in their names and in the texts they hold."""
    odd = tmp_path / os.fsdecode(b"x\x1b[31m\x07\xe2\x80\xae\xff\xc2\x9b'\"<b>.bin")
    text = CONTROLS.replace("\0", "")
    table = dumps.table(modules=[dumps.module(text), dumps.module("DIMM_B2")], processor=dumps.cpu(ProcessorVersion=text))
    folder = long("TBBX1\u202eR\x1bM.txt", "TBBX1R~1TXT", size=1024, cluster=9) + short("BAD\x1b[2JX ROM")
    volume = fat(70000, folder, {9: 10, 10: 0x0FFFFFFF})
    named = text.replace("\t", " ")
    image = images.volume([images.file(images.text(f"TB-Mooring D7{named}") + images.text(named, wide=True))])
    files = {
        "DUMP": dumps.entry_30(table) + table,
        "STICK": mbr((0x0C, 64, len(volume) // SECTOR)).ljust(64 * SECTOR, b"\0") + volume,
        "IMAGE": image,
        "LOG": f"12:00 55 {CONTROLS}\nmemory {CONTROLS}\n10 11 55\n".encode(),
        "RAILS": f"name,volts,state\n12V,11.9,running\n{CONTROLS},1,{CONTROLS}\n".encode(),
        "LIST": f"version,date,notes\n1.0,2031-05-17,{CONTROLS}\n{CONTROLS},x,{CONTROLS}\n".encode(),
        "ANSWERS": f"screen: {CONTROLS}\n".encode(),
        "QUOTED": json.dumps({"answers": {CONTROLS: CONTROLS}}).encode(),
        "ODD": b"10 11 55\n",
    }
    paths = {}
    for name, data in files.items():
        paths[name] = odd if name == "ODD" else odd.with_name(f"{name}{odd.name}")
        paths[name].write_bytes(data)
    return paths


FROM_FILES = [
    "verify DUMP",
    "verify DUMP --json",
    "verify DUMP --board ESC",
    "plan --from-dump DUMP --cpu kelp-450",
    "stick STICK --board tb-breakwater-x1",
    "stick STICK --file ESC",
    "stick STICK --json",
    "image IMAGE --board tb-mooring-d7",
    "image IMAGE --board tb-mooring-d7 --json",
    "image DUMP",
    "decode LOG",
    "decode LOG --json",
    "decode LOG --format html",
    "decode LOG --format svg",
    "decode ODD",
    "decode ODD --format html",
    "decode ESC",
    "rails --file RAILS",
    "rails ESC",
    "board import LIST --yes",
    "board import LIST --yes --json",
    "board import ODD --yes --board ESC",
    "board show ESC",
    "board show ODD",
    "diagnose --answers ANSWERS",
    "diagnose --answers QUOTED",
    "diagnose --answer ESC",
    "diagnose --answer ESC=ESC",
    "diagnose --answer screen=ESC",
    "diagnose --codes LOG",
    "diagnose --answer screen=no-signal --currency ESC",
    "diagnose --answer screen=no-signal --have ESC",
    "diagnose --answer screen=no-signal --slots ESC --board tb-mooring-d7",
    "diagnose --answer screen=no-signal --name ESC",
    "diagnose --answer screen=no-signal --image-for ESC",
    "diagnose --kb ODD",
    "report ESC",
    "resume ESC",
    "kb check ODD",
    "kb check --explain ESC",
    "kb draw page ESC",
    "drill sheet --kb ODD",
    "plan --board ODD --cpu ESC",
    "codes list ESC",
    "ESC",
    "--ESC",
]


@pytest.mark.slow
@pytest.mark.parametrize("line", FROM_FILES)
def test_controls_from_files_and_arguments(called: Run, shown_files: dict[str, Path], line: str) -> None:
    """Whatever is quoted, no control comes to the terminal, and JSON, pages and drawings are whole."""
    esc = CONTROLS.replace("\0", "")
    given = [str(shown_files[word]) if word in shown_files else word.replace("ESC", esc) for word in line.split()]
    code, shown, said = called(*given)
    assert code in (0, 1, 2)
    assert shown or said
    assert not CONTROL.search(shown + said)
    if code == 0 and "--json" in line:
        json.loads(shown)
    if code == 0 and "svg" in line:
        ElementTree.fromstring(shown)
    if code == 0 and "html" in line:
        assert not {tag for tag, _ in html_tags(shown)} & {"script", "img", "a", "b", "red"}


@pytest.mark.slow
def test_session_files(called: Run, knowledge: Knowledge, home: Path) -> None:
    """Words in a session file that somebody sent: shown without their controls by every command that reads it."""
    save(new_session("bench", knowledge).add(EventKind.ANSWER, "screen", "no-signal"))
    path = home / "sessions" / "bench.json"
    data = json.loads(path.read_text(encoding="utf-8"))
    hostile, start = "".join(MARKUP[:7]) + CONTROLS + "\ud800", f"<b>{CONTROLS}"[:40]
    data["machine"] = {hostile: hostile}
    data["facts"] = {hostile: hostile}
    data["records"] = {"board": hostile, "firmware": hostile[:200], "cpu": hostile}
    data["person"] = {"currency": "<i>\x1b[31m\u202e", "minute_rate": 1, "at_hand": [hostile]}
    data["knowledge"] = {"name": hostile[:200], "edition": start, "digest": "x"}
    data["created"] = start
    data["events"] += [{"kind": "answer", "item": start, "value": start, "at": start}]
    path.write_text(json.dumps(data), encoding="utf-8")
    load("bench", knowledge)
    for line in ("report bench", *(f"report bench --format {form}" for form in ("html", "svg", "json")), "sessions"):
        code, shown, said = called(*line.split())
        assert (code, said) == (0, "")
        assert not CONTROL.search(shown)
        if "html" in line:
            assert not {tag for tag, _ in html_tags(shown)} & {"script", "img", "a"}
        elif "svg" in line:
            ElementTree.fromstring(shown)
        elif line == "report bench":
            assert not {"html_inline", "html_block", "link_open", "image"} & set(markdown_tags(shown))


@pytest.mark.slow
@pytest.mark.parametrize("ending", [".csv", ".jsonl", ".parquet"])
def test_tables_of_many_logs(called: Run, tmp_path: Path, ending: str) -> None:
    """A cell that a spreadsheet would run as a formula has ' before it in CSV; other forms hold the text as it is."""
    names = ["=1+1", "+1", "-1", "@x", "\t=1", "\r=1", "\uff1d1", "a=1", "x\x1b\u202e", 'q",q', "l\nl"]
    source = tmp_path / "logs.jsonl"
    source.write_text("".join(json.dumps({"id": name, "log": "10 11 55"}) + "\n" for name in names), encoding="utf-8")
    out = tmp_path / f"out{ending}"
    code, shown, said = called("decode", "--batch", source, "--out", out, "--workers", 1)
    assert code == 0
    assert not CONTROL.search(shown + said)
    if ending == ".parquet":
        parquet = pytest.importorskip("pyarrow.parquet")
        assert parquet.read_table(out).column("name").to_pylist() == names
    elif ending == ".jsonl":
        assert [json.loads(line)["name"] for line in out.read_text(encoding="utf-8").split("\n")[:-1]] == names
    else:
        with out.open(encoding="utf-8", newline="") as stream:
            found = [row["name"] for row in csv.DictReader(stream)]
        assert found == [f"'{name}" for name in names[:7]] + names[7:]


@pytest.mark.parametrize("character", [*BIDI, "\u2028", "\x1b", "\x9b", "\0", "\ud800"])
def test_each_control_is_replaced_or_refused(character: str) -> None:
    """On the terminal and on pages it is replaced so that it is seen; YAML with it is refused with its line."""
    assert clean(f"a{character}b") == "a\ufffdb"
    assert escaped(f"a{character}b") == "a\ufffdb"
    for text in (f"a: b\nc: x{character}y\n", f'a: b\nc: "\\u{ord(character):04x}"\n'):
        _, problems = parse_yaml(text, "x.yaml")
        assert [(p.line, p.code) for p in problems] in ([(2, "control-character")], [(2, "yaml-syntax")])


def test_right_to_left_words_stay() -> None:
    """Letters that run from right to left, joiners and accents are words, not controls."""
    for text in ("עברית", "\u0627\u0644\u0639\u0631", "e\u0301", "👩\u200d🔧", "\u0645\u06cc\u200c\u062e"):
        assert clean(text) == text == escaped(text)
        document, problems = parse_yaml(f"a: {text}\n", "x.yaml")
        assert (document.data, problems) == ({"a": text}, [])


@pytest.mark.slow
def test_answers_at_a_terminal(terminal: Callable[..., Terminal]) -> None:
    """What is typed comes back without its controls, but for the echo of the line being typed."""
    with terminal("diagnose", "--name", "bench", env={"TERM": "dumb", "INPUTRC": "/dev/null"}) as t:
        t.prompt()
        begin = len(t.text)
        t.type("x\u202ey\u2066z\u009b<script>[red]\n")
        screen = t.wait_for("fits no choice", begin)
        told = next(line for line in screen.splitlines() if "fits no choice" in line)
        assert not CONTROL.search(told.rstrip("\r"))
        assert "<script>[red]" in words(told)
        t.prompt(begin)
        t.say("q")
        assert t.end() == 0


def test_yaml_of_the_bases_is_hostile(bases: tuple[Path, Path]) -> None:
    """The markup really is in the texts."""
    text = yaml.safe_load((bases[0] / "causes" / "loose-plug.yaml").read_text(encoding="utf-8"))
    assert any(mark in text["title"] for mark in MARKUP)
    knowledge = load_knowledge(bases[0])
    titles = " ".join(item.title for kind in (knowledge.causes, knowledge.findings, knowledge.actions) for item in kind.values())
    assert sum(mark in titles for mark in MARKUP) >= 6
