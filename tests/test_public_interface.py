"""The public interface: exactly these names, each explained, their examples true, and importing nopost costs nothing."""

from __future__ import annotations

import contextlib
import doctest
import importlib
import inspect
import io
import re
import subprocess
import sys
from pathlib import Path
from types import FunctionType
from typing import Any

import pytest

import nopost

ROOT = Path(__file__).resolve().parents[1]
PUBLIC = {
    *("load", "diagnose", "view_step", "decode", "plan_firmware", "lint", "with_records"),
    *("Knowledge", "History", "Parts", "Event", "EventKind", "Diagnosis", "StepView"),
    *("NopostError", "KnowledgeError", "UnknownNameError", "SessionError", "RecordError", "DumpError", "ImageError"),
    *("ScoreError", "ReadingError", "OutputError"),
    "__version__",
}
HEAVY = ("numpy", "jsonschema", "yaml", "experta", "networkx")
"""Modules that `import nopost` must not bring: each costs a command's start a tenth of a second or more."""
NAMES = sorted(PUBLIC - {"__version__"})


def test_public_names() -> None:
    """These and no other, in order, and each can be got; a star import gives just them."""
    assert set(nopost.__all__) == PUBLIC
    assert nopost.__all__ == sorted(nopost.__all__)
    assert set(nopost.__all__) <= set(dir(nopost))
    given: dict[str, Any] = {}
    exec("from nopost import *", given)
    assert set(given) - {"__builtins__"} == PUBLIC


@pytest.mark.parametrize("name", NAMES)
def test_public_name_is_explained(name: str) -> None:
    """A docstring of its own; a function also names each argument, and shows an example."""
    found = getattr(nopost, name)
    text = found.__doc__ or ""
    assert len(text) > 20
    assert not text.startswith(f"{name}("), "this one is made by dataclasses"
    if isinstance(found, FunctionType):
        assert ">>> " in text
        if found is not nopost.view_step:  # whose arguments are those of diagnose, as it says
            assert [one for one in inspect.signature(found).parameters if f"`{one}`" not in text] == []


@pytest.mark.slow
def test_public_modules_examples() -> None:
    """Every example in the modules of the interface is true."""
    modules = {nopost.__name__, *(getattr(nopost, name).__module__ for name in NAMES)}
    for module in map(importlib.import_module, sorted(modules)):
        assert doctest.testmod(module).failed == 0, module.__name__
    functions = [name for name in NAMES if isinstance(getattr(nopost, name), FunctionType)]
    tried = [test for module in map(importlib.import_module, modules) for test in doctest.DocTestFinder().find(module)]
    assert {test.name.rpartition(".")[2] for test in tried if test.examples} >= {*functions, "nopost", "History"}


@pytest.mark.parametrize("name", ["diagnosis_", "Diagnostician", "_nothing"])
def test_no_other_name(name: str) -> None:
    """What is not public says so as any module does."""
    with pytest.raises(AttributeError, match=f"module 'nopost' has no attribute '{name}'"):
        getattr(nopost, name)


def test_import_is_light() -> None:
    """`import nopost` brings nothing that takes long to load, in a process of its own."""
    code = "import sys, nopost; print(*sorted({name.split('.')[0] for name in sys.modules}))"
    done = subprocess.run([sys.executable, "-c", code], env={"PYTHONPATH": str(ROOT / "engine")}, capture_output=True, text=True)
    assert (done.returncode, done.stderr) == (0, "")
    assert set(HEAVY) & set(done.stdout.split()) == set()


@pytest.mark.slow
@pytest.mark.parametrize(
    ("kind", "item", "value", "told"),
    [
        ("answer", "respons", "nothing", "no finding is called 'respons'; did you mean response"),
        ("answer", "response", "runz", "no answer to response is called 'runz'; did you mean runs"),
        ("tried", "reseat-memry", "same", "no fix is called 'reseat-memry'; did you mean reseat-memory"),
        ("tried", "reseat-memory", "better", "no outcome is called 'better'; there are starts, same, changed"),
        ("skipped", "reseat-memry", "", "no action is called 'reseat-memry'; did you mean reseat-memory"),
        ("codes", "edk3", "", "no code table is called 'edk3'; did you mean edk2"),
    ],
)
def test_wrong_names_are_told(knowledge: nopost.Knowledge, kind: str, item: str, value: str, told: str) -> None:
    """An event that the knowledge base cannot take is an error in one line, for a diagnosis and for a view."""
    history = nopost.History().add(nopost.EventKind(kind), item, value)
    for function in (nopost.diagnose, nopost.view_step):
        with pytest.raises(nopost.UnknownNameError) as caught:
            function(knowledge, history)
        assert str(caught.value).startswith(told)


@pytest.mark.slow
def test_readme_example(monkeypatch: pytest.MonkeyPatch) -> None:
    """The example of the README runs from a checkout and prints what it says."""
    (code,) = re.findall(r"^```python\n(.*?)^```$", (ROOT / "README.md").read_text(encoding="utf-8"), re.MULTILINE | re.DOTALL)
    monkeypatch.chdir(ROOT)
    given: dict[str, Any] = {}
    with contextlib.redirect_stdout(io.StringIO()) as printed:
        exec(compile(code, "README.md", "exec"), given)
    *causes, step, answers, titles, problems = printed.getvalue().splitlines()
    assert [bool(re.fullmatch(r" *\d+%  \S.*", line)) for line in causes] == [True] * 3
    assert step == f"Next: {nopost.view_step(given['knowledge'], given['history']).title}"
    assert answers.startswith("{'")
    assert titles.count("', '") >= 1
    assert problems == "()"
    used = set(re.findall(r"\bnopost\.([A-Za-z_]+)", code))
    assert used >= {"load", "History", "diagnose", "decode", "plan_firmware", "lint"}
    assert used <= PUBLIC
