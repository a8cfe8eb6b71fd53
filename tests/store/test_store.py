"""The store: round trips, conflicts, damage, another edition, odd names, and a disk that refuses."""

from __future__ import annotations

import contextlib
import errno
import json
import os
import shutil
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from nopost.diagnosis.diagnose import Diagnostician
from nopost.diagnosis.history import OUTCOMES, End, Event, EventKind, History, Parts, possible_answers
from nopost.errors import NopostError, SessionError, UnknownNameError
from nopost.files import LOCK
from nopost.knowledge.model import UNKNOWN, Knowledge, Renamed, RenamedKind
from nopost.loading import load_knowledge
from nopost.store.sessions import (
    NAME,
    Session,
    free_name,
    keep_copy,
    load,
    load_all,
    new_session,
    save,
    save_as_free,
    session_names,
    session_path,
)
from shipped import shipped_knowledge

ROOT = Path(__file__).resolve().parents[2]
SHIPPED = shipped_knowledge()
names = st.from_regex(NAME, fullmatch=True)
texts = st.text(st.characters(exclude_categories=["Cs"]), max_size=30)


def events() -> st.SearchStrategy[Event]:
    """Any event that the shipped knowledge base knows."""
    answers = [(EventKind.ANSWER, f.id, a) for f in SHIPPED.findings.values() for a in possible_answers(f)]
    fixes = [(EventKind.TRIED, a.id, o) for a in SHIPPED.actions.values() if a.kind == "fix" for o in OUTCOMES]
    skips = [(EventKind.SKIPPED, a, "") for a in SHIPPED.actions]
    ends = [(EventKind.END, c, str(end)) for c in ("", *SHIPPED.causes) for end in End]
    told = st.builds(
        lambda what, at: Event(what[0], what[1], what[2], at), st.sampled_from([*answers, *fixes, *skips, *ends]), texts
    )
    codes = st.builds(
        lambda table, at, text: Event(EventKind.CODES, table, "", at, text), st.sampled_from(["", *SHIPPED.codes]), texts, texts
    )
    readings = st.builds(
        lambda alone, at, text: Event(EventKind.READINGS, "", alone, at, text), st.sampled_from(["", "alone"]), texts, texts
    )
    return told | codes | readings


@st.composite
def sessions(draw: st.DrawFn) -> Session:
    """A session that the store may meet."""
    rate = st.none() | st.floats(0, 1e6, exclude_min=True, allow_nan=False)
    entries = st.sampled_from([name for name, entry in SHIPPED.base.inventory.items() if "yes" in entry.choices])
    tools = st.frozensets(st.sampled_from(sorted(SHIPPED.base.tools)))
    parts = Parts(
        board=draw(texts),
        cpu=draw(texts),
        firmware=draw(texts),
        slots=tuple(draw(st.lists(st.from_regex("[A-Z][0-9]", fullmatch=True), max_size=4))),
        at_hand=draw(tools),
        minute_rate=draw(rate),
        there=draw(st.dictionaries(entries, st.just("yes"), max_size=3)),
    )
    history = History(parts, tuple(draw(st.lists(events(), max_size=8))))
    return replace(new_session(draw(names), SHIPPED, history), kb=draw(texts), currency=draw(st.text(max_size=10)))


def small_session(name: str = "bench-1") -> Session:
    """A short session."""
    session = new_session(name, SHIPPED).add(EventKind.ANSWER, "screen", "no-signal")
    return session.add(EventKind.TRIED, "reseat-memory", "same")


def rewrite(name: str, **changes: Any) -> None:
    """Change top-level values of a session's file."""
    path = session_path(name)
    data = json.loads(path.read_text(encoding="utf-8"))
    path.write_text(json.dumps({**data, **changes}), encoding="utf-8")


@pytest.mark.slow
@given(sessions())
@settings(max_examples=150)
def test_round_trip(session: Session) -> None:
    """What is loaded is what was saved, one revision up."""
    session_path(session.name).unlink(missing_ok=True)
    kept = save(session)
    assert kept == replace(session, revision=1)
    assert load(session.name, SHIPPED) == kept


def test_revision_rises() -> None:
    """Each write is one revision."""
    session = small_session()
    for revision in (1, 2, 3):
        session = save(session)
        assert session.revision == revision
        assert load(session.name, SHIPPED).revision == revision


def test_conflict_with_another_program() -> None:
    """Two programs go on with one session: the second one that writes is refused, and nothing is lost on disk."""
    first = save(small_session())
    second = load("bench-1", SHIPPED)
    first = save(first.add(EventKind.ANSWER, "occasion", "new-build"))
    with pytest.raises(SessionError, match="another nopost wrote this session; leave one"):
        save(second.add(EventKind.ANSWER, "response", "runs"))
    assert load("bench-1", SHIPPED) == first


def test_new_session_never_replaces_an_old_one() -> None:
    """A new session of a name that is taken is refused, also when the file there is damaged."""
    save(small_session())
    with pytest.raises(SessionError, match="choose another --name"):
        save(new_session("bench-1", SHIPPED))
    session_path("bench-1").write_bytes(b"{")
    with pytest.raises(SessionError, match="choose another --name"):
        save(new_session("bench-1", SHIPPED))


def test_own_file_damaged_meanwhile_is_written_anew() -> None:
    """What is held in memory is better than a damaged file of one's own."""
    session = save(small_session())
    session_path("bench-1").write_bytes(b"{")
    again = save(session)
    assert load("bench-1", SHIPPED) == again


def test_every_truncation_is_told() -> None:
    """Cut off after any byte, a file is refused as a SessionError and nothing else."""
    save(small_session())
    path = session_path("bench-1")
    whole = path.read_bytes()
    assert whole.endswith(b"}\n")
    for length in range(len(whole) - 1):
        path.write_bytes(whole[:length])
        with pytest.raises(SessionError):
            load("bench-1", SHIPPED)


@pytest.mark.slow
def test_every_damaged_byte_is_met() -> None:
    """With any one byte replaced a file loads or is refused as a SessionError; nothing else comes out."""
    save(small_session())
    path = session_path("bench-1")
    whole = path.read_bytes()
    for place in range(len(whole)):
        for byte in (0x22, 0x30, 0xFF):
            path.write_bytes(whole[:place] + bytes([byte]) + whole[place + 1 :])
            with contextlib.suppress(SessionError):
                load("bench-1", SHIPPED)


@pytest.mark.slow
@given(
    st.binary(max_size=200) | st.recursive(st.none() | st.text() | st.integers(), st.lists).map(lambda v: json.dumps(v).encode())
)
@example(b"[" * 100_000)
@example(b"1" * 5_000)
@example(b" " * (4 * 1024 * 1024 + 1))
@example(b'{"format": "nopost-session"}')
@settings(max_examples=200)
def test_any_bytes(content: bytes) -> None:
    """Any file in the folder is refused as a SessionError."""
    path = session_path("any")
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(content)
    with pytest.raises(SessionError):
        load("any", SHIPPED)


@pytest.mark.parametrize("rate", ["NaN", "Infinity", "1e400", "-1", "0", '"1"'])
def test_numbers_that_are_none(rate: str) -> None:
    """JSON readers take NaN and infinity; the store does not."""
    save(small_session())
    path = session_path("bench-1")
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace('"at_hand"', f'"minute_rate": {rate}, "at_hand"'), encoding="utf-8")
    with pytest.raises(SessionError):
        load("bench-1", SHIPPED)


def test_renamed_file_is_refused() -> None:
    """A session under another file name would be written to two places."""
    save(small_session())
    session_path("bench-1").rename(session_path("bench-2"))
    with pytest.raises(SessionError, match="rename the file back"):
        load("bench-2", SHIPPED)


def test_another_edition() -> None:
    """What this knowledge base does not know is dropped and listed; the rest is kept, and can be assessed."""
    at = "2031-01-01T00:00:00+00:00"
    known = [
        {"kind": "answer", "item": "screen", "value": "no-signal", "at": at},
        {"kind": "tried", "item": "reseat-memory", "value": "same", "at": at},
        {"kind": "skipped", "item": "replace-cpu", "value": "", "at": at},
    ]
    lost = [
        {"kind": "answer", "item": "gone-finding", "value": "yes", "at": at},
        {"kind": "answer", "item": "screen", "value": "gone-answer", "at": at},
        {"kind": "tried", "item": "gone-action", "value": "same", "at": at},
        {"kind": "tried", "item": "reseat-memory", "value": "gone-outcome", "at": at},
        {"kind": "skipped", "item": "gone-skip", "at": at},
    ]
    save(small_session())
    mixed = [event for pair in zip(lost, [*known, *known], strict=False) for event in pair]
    rewrite("bench-1", events=mixed, person={"at_hand": ["gone-tool", "multimeter"]}, facts={"gone-fact": "gone-value"})
    session = load("bench-1", SHIPPED)
    assert [e.item for e in session.history.events] == ["screen", "reseat-memory", "replace-cpu", "screen", "reseat-memory"]
    assert session.history.parts.at_hand == {"multimeter"}
    wanted = ("gone-finding", "gone-answer", "gone-action", "gone-outcome", "gone-skip", "gone-tool")
    assert len(session.dropped) == len(wanted)
    for name, told in zip(wanted, session.dropped, strict=True):
        assert name in told
    Diagnostician(SHIPPED).diagnose(session.history)


def test_no_copy_replaces_another() -> None:
    """A session that goes to and fro between editions loses nothing."""
    kept = []
    for step in range(3):
        session = small_session(f"bench-{step}")
        save(replace(session, name="bench", revision=step))
        kept.append((keep_copy("bench"), session_path("bench").read_bytes()))
    assert len({path for path, _ in kept}) == 3
    assert all(path.read_bytes() == content for path, content in kept)
    assert session_names() == ["bench"]


def test_a_fix_that_became_a_test_is_dropped() -> None:
    """An action that is no fix in this edition cannot have been tried as one."""
    save(small_session())
    probe = next(a.id for a in SHIPPED.actions.values() if a.kind != "fix")
    rewrite("bench-1", events=[{"kind": "tried", "item": probe, "value": "same", "at": ""}])
    session = load("bench-1", SHIPPED)
    assert (session.history.events, len(session.dropped)) == ((), 1)


@pytest.mark.parametrize(
    "name",
    ["../x", "..", ".hidden", "", "a/b", "/etc/passwd", "a\\b", "a b", "a\n", "a\0b", "x" * 81, "x" * 5000, "é", "-x", "~"],
)
def test_names_that_are_no_names(home: Path, name: str) -> None:
    """A name that could leave the folder, hide or break is refused before any file is touched."""
    for deed in (lambda: session_path(name), lambda: load(name, SHIPPED), lambda: save(new_session(name, SHIPPED))):
        with pytest.raises(SessionError, match="cannot be a session's name"):
            deed()
    assert not home.exists()


def test_longest_name() -> None:
    """The longest name that is allowed can be written."""
    name = "x" * 80
    save(small_session(name))
    assert session_names() == [name]


def test_unknown_session_names_the_nearest() -> None:
    """A session that is not there."""
    save(small_session())
    with pytest.raises(UnknownNameError, match="did you mean bench-1"):
        load("bench-2", SHIPPED)


def full_disk(*_: object) -> Any:
    """No space left."""
    raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


@pytest.mark.parametrize("broken", ["fsync", "replace"])
def test_full_disk_keeps_the_old_file(monkeypatch: pytest.MonkeyPatch, broken: str) -> None:
    """Whatever step of writing fails, the old session stands whole, nothing is left beside it, and it can be tried again."""
    session = save(small_session())
    path = session_path("bench-1")
    before = path.read_bytes()
    longer = session.add(EventKind.ANSWER, "occasion", "new-build")
    with monkeypatch.context() as patch:
        patch.setattr(os, broken, full_disk)
        with pytest.raises(SessionError, match="No space left on device; what was kept before still stands"):
            save(longer)
    assert path.read_bytes() == before
    assert sorted(entry.name for entry in path.parent.iterdir()) == sorted([LOCK, path.name])
    assert save(longer).revision == 2


def test_disk_that_is_full_while_writing(monkeypatch: pytest.MonkeyPatch) -> None:
    """The bytes themselves do not fit."""
    session = save(small_session())
    before = session_path("bench-1").read_bytes()

    class Full:
        """A stream on a full disk."""

        def __enter__(self) -> Full:
            return self

        def __exit__(self, *_: object) -> None:
            os.close(self.handle)

        def __init__(self, handle: int, _mode: str) -> None:
            self.handle = handle

        write = full_disk

    with monkeypatch.context() as patch:
        patch.setattr(os, "fdopen", Full)
        with pytest.raises(SessionError, match="No space left"):
            save(session)
    assert session_path("bench-1").read_bytes() == before
    assert {entry.name for entry in session_path("bench-1").parent.iterdir()} == {LOCK, "bench-1.json"}


def test_folder_that_cannot_be(home: Path) -> None:
    """The data folder is a file."""
    home.write_text("", encoding="utf-8")
    with pytest.raises(SessionError, match="cannot be written"):
        save(small_session())
    assert session_names() == []


def test_list_of_sessions() -> None:
    """The one written last comes first; other files are passed over; a damaged one is listed with what is wrong."""
    for age, name in enumerate(["one", "two", "three"]):
        save(small_session(name))
        os.utime(session_path(name), (1_000_000 + age, 1_000_000 + age))
    folder = session_path("one").parent
    (folder / "notes.txt").write_text("x", encoding="utf-8")
    (folder / ".two.json.abc").write_text("x", encoding="utf-8")
    (folder / "a b.json").write_text("x", encoding="utf-8")
    assert session_names() == ["three", "two", "one"]
    session_path("two").write_bytes(b"{}")
    found = dict(load_all(SHIPPED))
    assert list(found) == ["two", "three", "one"]
    assert isinstance(found["two"], SessionError)
    assert isinstance(found["one"], Session)


def test_what_is_no_plain_file_is_passed_over() -> None:
    """Reading a pipe would wait for ever; a link that leads nowhere is no session."""
    save(small_session("one"))
    folder = session_path("one").parent
    os.mkfifo(folder / "pipe.json")
    (folder / "nowhere.json").symlink_to("/nowhere")
    (folder / "folder.json").mkdir()
    assert session_names() == ["one"]
    assert [name for name, _ in load_all(SHIPPED)] == ["one"]
    with pytest.raises(SessionError, match="not a plain file"):
        load("pipe", SHIPPED)


def test_a_session_deleted_while_listing_is_passed_over(monkeypatch: pytest.MonkeyPatch) -> None:
    """Another terminal may tidy up meanwhile."""
    save(small_session("one"))
    monkeypatch.setattr("nopost.store.sessions.session_names", lambda: ["gone", "one"])
    assert [name for name, _ in load_all(SHIPPED)] == ["one"]


def test_a_file_too_large_is_not_read(monkeypatch: pytest.MonkeyPatch) -> None:
    """It is told by its size, not by what is in it."""
    save(small_session("one"))
    monkeypatch.setattr("nopost.store.sessions.MAX_BYTES", 100)
    with pytest.raises(SessionError, match="larger than"):
        load("one", SHIPPED)


@pytest.mark.parametrize("value", ["", "zzz"])
def test_an_end_that_is_none_is_dropped(value: str) -> None:
    """A hand-made end: the session is open again."""
    save(small_session("one").add(EventKind.END, "", value))
    session = load("one", SHIPPED)
    assert session.history.end is None
    assert len(session.history.events) == 2
    assert session.dropped == (f"no session ends as {value!r}",)


def test_no_home_folder(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """No NOPOST_HOME, and a user without a home: a line that says what to set."""

    def none(*_: object, **__: object) -> None:
        raise RuntimeError("no home")

    monkeypatch.delenv("NOPOST_HOME")
    for place in ("user_data_path", "user_cache_path"):
        monkeypatch.setattr(f"platformdirs.{place}", none)
    with pytest.raises(NopostError, match="set NOPOST_HOME"):
        session_names()
    base = Path(shutil.copytree(ROOT / "tests" / "bad_kb" / "_good", tmp_path / "kb"))
    assert load_knowledge(base).digest == load_knowledge(base, cached=False).digest


def test_free_name() -> None:
    """The day and the first number that is free."""
    assert free_name("2031-05-17") == "2031-05-17-1"
    for name in ("2031-05-17-1", "2031-05-17-3"):
        save(small_session(name))
    assert free_name("2031-05-17") == "2031-05-17-2"


def test_what_a_kill_left_is_swept_up() -> None:
    """A half-written file of the same session goes with the next save; those of others stay, they may be in the making."""
    save(small_session("one"))
    left, other = (session_path(name).with_name(f".{name}.json.a1b2.part") for name in ("one", "one-2"))
    left.touch()
    other.touch()
    save(load("one", SHIPPED))
    assert (left.exists(), other.exists()) == (False, True)


def test_begun_at_the_same_moment() -> None:
    """Each gets a name of its own, also while others save."""
    with ThreadPoolExecutor(8) as pool:
        saved = list(pool.map(lambda _: save_as_free(small_session(), "2031-05-17"), range(24)))
    assert sorted(session.name for session in saved) == sorted(f"2031-05-17-{k}" for k in range(1, 25))
    assert sorted(session_names()) == sorted(session.name for session in saved)


def test_only_one_of_many_writers_goes_on() -> None:
    """Writers that all read the same revision: one is taken, all others are told; nothing is overwritten."""
    first = save(small_session("one"))

    def attempt(k: int) -> str:
        try:
            return save(first.add(EventKind.ANSWER, "danger-signs", "none" if k % 2 else UNKNOWN)).history.events[-1].value
        except SessionError:
            return ""

    with ThreadPoolExecutor(8) as pool:
        taken = [value for value in pool.map(attempt, range(24)) if value]
    assert len(taken) == 1
    assert load("one", SHIPPED).history.events[-1].value == taken[0]


@pytest.mark.slow
def test_session_of_the_fixture_is_the_same(knowledge: Knowledge) -> None:
    """The knowledge base that these tests draw from is the shipped one."""
    assert (knowledge.base.name, knowledge.base.edition) == (SHIPPED.base.name, SHIPPED.base.edition)


def test_session_of_the_first_version_is_read() -> None:
    """Version 1 had no records: it is read, goes on without them, and is written as today's version."""
    save(small_session())
    path = session_path("bench-1")
    data = json.loads(path.read_text(encoding="utf-8"))
    del data["records"]
    path.write_text(json.dumps({**data, "version": 1, "facts": {"board-video": "no"}}), encoding="utf-8")
    found = load("bench-1", SHIPPED)
    assert found.history.parts == Parts()
    assert [event.item for event in found.history.events] == ["screen", "reseat-memory"]
    assert "give --board again" in found.dropped[0]
    parts = Parts(board="tb-breakwater-x1", firmware="1.9")
    save(found.with_history(replace(found.history, parts=parts)))
    assert json.loads(path.read_text(encoding="utf-8"))["version"] == 4
    assert load("bench-1", SHIPPED).history.parts == parts


def test_session_of_the_second_version_is_read() -> None:
    """Version 2 kept what followed from the records beside them, and the folder of the base among them."""
    save(small_session())
    path = session_path("bench-1")
    data = json.loads(path.read_text(encoding="utf-8"))
    records = {"board": "tb-harbour-m2", "firmware": "0.94", "slots": "A2,B2", "memory_type": "DDR4", "kb": "/bench/kb"}
    old = {**data, "version": 2, "records": records, "facts": {"board-video": "no"}, "machine": {"board": "Another"}}
    path.write_text(json.dumps(old), encoding="utf-8")
    found = load("bench-1", SHIPPED)
    assert found.history.parts == Parts("tb-harbour-m2", firmware="0.94", slots=("A2", "B2"), memory_type="DDR4")
    assert (found.kb, found.dropped) == ("/bench/kb", ())


def test_what_is_there_is_read_as_far_as_it_is_known() -> None:
    """Entries and choices that this knowledge base does not have are dropped and told; version 3 had none."""
    save(small_session())
    rewrite("bench-1", records={"there": {"has-card": "no", "sail": "yes", "old-cpu": "perhaps"}})
    session = load("bench-1", SHIPPED)
    assert session.history.parts.there == {"has-card": "no"}
    assert [("sail" in lost, "perhaps" in lost) for lost in session.dropped] == [(True, False), (False, True)]
    rewrite("bench-1", version=3, records={})
    assert load("bench-1", SHIPPED).history.parts.there == {}


def test_version_to_come_is_refused() -> None:
    """A session that a later program wrote is not taken apart."""
    save(small_session())
    rewrite("bench-1", version=5)
    with pytest.raises(SessionError, match="version"):
        load("bench-1", SHIPPED)


def test_an_old_id_is_read_as_what_it_became() -> None:
    """One that became several is told; what was kept under one new id goes on."""
    knowledge = SHIPPED
    first, second, *_ = (finding.id for finding in knowledge.findings.values() if UNKNOWN in finding.possible_answers)
    kept = new_session("old-ids", knowledge)
    kept = kept.add(EventKind.ANSWER, "gone-single", UNKNOWN).add(EventKind.ANSWER, "gone-split", UNKNOWN)
    save(kept)
    ids = {RenamedKind.FINDING: {"gone-single": (first,), "gone-split": (first, second)}}
    found = load("old-ids", replace(knowledge, renamed=Renamed(ids)))
    assert [(event.item, event.value) for event in found.history.events] == [(first, UNKNOWN)]
    assert found.dropped == (f"gone-split={UNKNOWN} became {first} and {second} in this knowledge base; tell it anew",)
