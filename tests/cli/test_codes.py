"""`nopost codes`: every table and every code can be looked at, and each meaning names its table."""

from __future__ import annotations

import json
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from cli.terminal import ROOT, words
from nopost.knowledge.model import Knowledge

Run = Callable[..., "subprocess.CompletedProcess[str]"]


def data(run: Run, *words_: str) -> dict[str, Any]:
    """What --json gives."""
    done = run("codes", *words_, "--json")
    assert (done.returncode, done.stderr) == (0, "")
    found: dict[str, Any] = json.loads(done.stdout)
    assert found["version"] == 1
    return found


def shown(run: Run, *words_: str) -> str:
    """The screen as one line."""
    done = run("codes", *words_, env={"COLUMNS": "120"})
    assert (done.returncode, done.stderr) == (0, "")
    return words(done.stdout)


def refused(run: Run, *words_: str) -> str:
    """The one line of a mistake."""
    done = run("codes", *words_)
    assert (done.returncode, done.stdout) == (1, "")
    return words(done.stderr)


def test_list(run: Run, knowledge: Knowledge) -> None:
    """Each table with its form, its number of codes and its source."""
    listed = data(run, "list")
    assert listed["format"] == "nopost-code-tables"
    assert [(t["id"], t["form"], t["codes"], t["source"]) for t in listed["tables"]] == [
        (t.id, t.form, len(t.codes), t.source) for t in knowledge.codes.values()
    ]
    told = shown(run, "list")
    for table in knowledge.codes.values():
        assert f"{table.id} {table.form} {len(table.codes)}" in told
    assert "Source:" in told


@pytest.mark.slow
def test_narrow(run: Run, knowledge: Knowledge) -> None:
    """At 60 columns nothing is wider, and what columns cannot hold stands in lines: no id, symbol or word is broken."""
    for words_ in (("list",), ("show", "edk2"), ("search", "memory")):
        done = run("codes", *words_, env={"COLUMNS": "60"})
        assert max(map(len, done.stdout.splitlines())) <= 60
        told = words(done.stdout)
        if words_ == ("list",):
            assert all(f"{t.id}: {t.form}, {len(t.codes)} codes" in told for t in knowledge.codes.values())
        elif words_[0] == "show":
            assert all(code.meaning in told for code in knowledge.codes["edk2"].codes)
        else:
            hits = data(run, *words_)["codes"]
            assert all(f"{hit['table']}: {hit['code']} Meaning {hit['meaning']}" in told for hit in hits)


@pytest.mark.slow
def test_every_table(run: Run, knowledge: Knowledge) -> None:
    """All codes in the order of the table."""
    for table in knowledge.codes.values():
        found = data(run, "show", table.id)
        assert [(c["code"], c["meaning"], c["kind"]) for c in found["codes"]] == [
            (c.code, c.meaning, c.kind) for c in table.codes
        ]
        assert {c["table"] for c in found["codes"]} == {table.id}


def test_table_on_the_screen(run: Run, knowledge: Knowledge) -> None:
    """With its title, codes, meanings and source."""
    told = shown(run, "show", "generic-lamps")
    table = knowledge.codes["generic-lamps"]
    assert told.startswith(table.title)
    assert "Source:" in told
    assert all(code.code in told for code in table.codes)


@pytest.mark.slow
@pytest.mark.parametrize("typed", ["E3", "e3", "0xe3", "E3h"])
def test_a_code_that_tables_disagree_on(run: Run, typed: str) -> None:
    """coreboot: memory could not be started (POSTCODE_RAM_FAILURE in its post_codes.h); edk2: wake from sleep (the table of
    PostCodeDebugFeaturePkg in edk2-platforms). Never one without the other."""
    found = data(run, "show", typed)
    assert found["code"] == "E3"
    by_table = {meaning["table"]: meaning for meaning in found["meanings"]}
    assert by_table["coreboot"]["symbol"] == "POSTCODE_RAM_FAILURE"
    assert by_table["edk2"]["phase"] == "resume"
    told = shown(run, "show", typed)
    assert "which of them holds depends on the board's firmware" in told
    assert "coreboot: E3" in told
    assert "edk2: E3" in told


def test_a_code_in_one_table_first(run: Run) -> None:
    """The table that was named leads; the others follow."""
    for first, other in (("edk2", "coreboot"), ("coreboot", "edk2")):
        tables = [meaning["table"] for meaning in data(run, "show", first, "92")["meanings"]]
        assert tables[0] == first
        assert other in tables


def test_a_long_code_by_its_low_byte(run: Run) -> None:
    """And it is said."""
    assert "edk2: 34 (by its low byte)" in shown(run, "show", "0x1234")
    assert all(meaning["low_byte_only"] for meaning in data(run, "show", "0x1234")["meanings"])


@pytest.mark.slow
def test_search(run: Run, knowledge: Knowledge) -> None:
    """All words, in meanings, symbols and notes, in any case."""
    found = data(run, "search", "RAM_failure")
    assert [(c["table"], c["code"]) for c in found["codes"]] == [("coreboot", "E3")]
    for one, other in (("memory", "ready"), ("first", "start"), ("PCI", "bus")):
        wanted = {
            (table.id, code.code)
            for table in knowledge.codes.values()
            for code in table.codes
            if all(w.casefold() in f"{code.meaning}\n{code.symbol}\n{code.note}".casefold() for w in f"{one} {other}".split())
        }
        assert {(c["table"], c["code"]) for c in data(run, "search", one, other)["codes"]} == wanted
    assert "POSTCODE_RAM_FAILURE" in shown(run, "search", "ram_failure")


def test_nothing_found(run: Run) -> None:
    """Is said, and is no error."""
    assert data(run, "search", "xyzzy")["codes"] == []
    assert shown(run, "search", "xyzzy") == "No meaning, symbol or note has: xyzzy"


@pytest.mark.slow
def test_mistakes(run: Run) -> None:
    """Near names; tables that do have the code."""
    assert "did you mean edk2?" in refused(run, "show", "edkk")
    assert "did you mean edk2?" in refused(run, "show", "edkk", "92")
    assert refused(run, "show", "edk2-beeps", "92").startswith(
        "nopost: edk2-beeps has no code '92'; these have it: coreboot, edk2"
    )
    assert refused(run, "show", "edk2", "zz\x1b[31m").isprintable()
    assert run("codes", "show").returncode == run("codes", "search").returncode == run("codes", "look").returncode == 2


@pytest.mark.slow
def test_a_table_copied_as_the_manual_says(run: Run, tmp_path: Path) -> None:
    """cli/manual/knowledge.md: copy a table, change it, look at it; before or after the command's own name."""
    kb = tmp_path / "kb"
    shutil.copytree(ROOT / "kb", kb)
    text = (kb / "codes" / "generic-lamps.yaml").read_text(encoding="utf-8")
    (kb / "codes" / "my-board.yaml").write_text(text.replace("id: generic-lamps", "id: my-board", 1), encoding="utf-8")
    assert "my-board" in {table["id"] for table in data(run, "list", "--kb", str(kb))["tables"]}
    assert "my-board" in {table["id"] for table in data(run, "--kb", str(kb), "list")["tables"]}
    (kb / "codes" / "my-board.yaml").write_text(text, encoding="utf-8")
    done = run("codes", "list", "--kb", str(kb))
    assert done.returncode == 1
    assert "my-board.yaml:" in done.stderr
