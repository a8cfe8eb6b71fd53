"""Sessions on disk: one JSON file each, written whole after every answer, read with care."""

from __future__ import annotations

import json
import os
import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from itertools import count
from pathlib import Path
from typing import Any

from nopost.diagnosis.effort import Person
from nopost.diagnosis.history import End, Event, EventKind, Session, check_answer, check_tried
from nopost.errors import NopostError, SessionError, UnknownNameError
from nopost.files import locked, write_atomically
from nopost.knowledge.model import Knowledge
from nopost.paths import user_dir

NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,79}")
MAX_BYTES = 4 * 1024 * 1024
VERSION = 2
"""Of the format that is written. 1 had no `records`; it is still read."""


def sessions_dir() -> Path:
    """Folder of the session files."""
    return user_dir() / "sessions"


def session_path(name: str) -> Path:
    """File of a session. Raises SessionError for a name that is no file name."""
    if not NAME.fullmatch(name):
        raise SessionError(f"{name!r} cannot be a session's name: use letters, digits, dots, hyphens")
    return sessions_dir() / f"{name}.json"


def session_names() -> list[str]:
    """Names of all sessions, the one written last first."""
    folder = sessions_dir()
    if not folder.is_dir():
        return []
    files = [path for path in folder.glob("*.json") if NAME.fullmatch(path.stem) and path.is_file()]
    return [path.stem for path in sorted(files, key=lambda p: (-p.stat().st_mtime, p.stem))]


def free_name(day: str) -> str:
    """A name that no session has yet: the day and a number."""
    return next(name for k in count(1) if not os.path.lexists(session_path(name := f"{day}-{k}")))


def save_as_free(session: Session, day: str) -> Session:
    """Write a new session under a name that no other has, also when several programs begin at the same moment."""
    try:
        with _alone():
            return _save(replace(session, name=free_name(day)))
    except OSError as error:
        raise _refused(sessions_dir(), error) from None


def save(session: Session) -> Session:
    """Write a session; the one that is now on disk, one revision up.

    Raises SessionError when the disk refuses or another program wrote the session meanwhile; then nothing is lost on disk.
    """
    path = session_path(session.name)
    try:
        with _alone():
            return _save(session)
    except OSError as error:
        raise _refused(path, error) from None


@contextmanager
def _alone() -> Iterator[None]:
    """No other program writes a session meanwhile, so none can come between looking and writing."""
    folder = sessions_dir()
    folder.mkdir(parents=True, exist_ok=True)
    with locked(folder):
        yield


def _save(session: Session) -> Session:
    path = session_path(session.name)
    _refuse_newer(path, session.revision)
    written = replace(session, revision=session.revision + 1)
    write_atomically(path, json.dumps(_data(written), indent=1).encode() + b"\n", alone=True)
    return written


def _refused(path: Path, error: OSError) -> SessionError:
    return SessionError(f"{path}: cannot be written: {error.strerror}; what was kept before still stands")


def _refuse_newer(path: Path, revision: int) -> None:
    if not path.exists():
        return
    try:
        there = _read(path)["revision"]
    except SessionError as damaged:
        if revision == 0:
            raise SessionError(f"{damaged}; move it away or choose another --name") from None
        return  # it was ours and is damaged now: what we hold is better
    if there > revision:
        again = "choose another --name" if revision == 0 else "leave one of the two"
        raise SessionError(f"{path}: another nopost wrote this session; {again}")


def load(name: str, knowledge: Knowledge) -> Session:
    """Read a session for this knowledge base. What it no longer knows is dropped and listed in `dropped`.

    Raises SessionError (with the nearest names when there is none of this name).
    """
    path = session_path(name)
    if not path.exists():
        raise UnknownNameError("session", name, session_names())
    data = _read(path)
    events, dropped = [], []
    for raw in data["events"]:
        event = Event(EventKind(raw["kind"]), raw.get("item", ""), raw.get("value", ""), raw["at"])
        lost = _lost(event, knowledge)
        if lost:
            dropped.append(lost)
        else:
            events.append(event)
    return _session(data, knowledge, tuple(events), tuple(dropped))


def keep_copy(name: str) -> Path:
    """Copy a session's file beside it before what a newer edition does not know is lost, never over another copy.

    Raises SessionError.
    """
    path = session_path(name)
    copy = next(copy for n in count(1) if not (copy := path.with_suffix(f".json.before-{n}")).exists())
    try:
        with _alone():
            write_atomically(copy, path.read_bytes(), alone=True)
    except OSError as error:
        raise SessionError(f"{copy}: cannot be written: {error.strerror}; the session was left as it is") from None
    return copy


def recorded_kb(name: str) -> Path | None:
    """The knowledge base that a session was begun with, when it was not the shipped one. Raises as `load` does."""
    path = session_path(name)
    if not path.exists():
        raise UnknownNameError("session", name, session_names())
    told = _read(path).get("records", {}).get("kb")
    return Path(told) if told else None


def load_all(knowledge: Knowledge) -> Iterator[tuple[str, Session | SessionError]]:
    """Every session, or what is wrong with its file."""
    for name in session_names():
        try:
            yield name, load(name, knowledge)
        except SessionError as error:
            yield name, error
        except UnknownNameError:  # deleted since the folder was read
            continue


def _lost(event: Event, knowledge: Knowledge) -> str:
    """Why an event means nothing to this knowledge base; empty when it does."""
    try:
        if event.kind is EventKind.ANSWER:
            check_answer(knowledge, event.item, event.value)
        elif event.kind is EventKind.TRIED:
            check_tried(knowledge, event.item, event.value)
        elif event.kind is EventKind.SKIPPED and event.item not in knowledge.actions:
            return f"no action is called {event.item!r}"
        elif event.kind is EventKind.END and event.value not in list(End):
            return f"no session ends as {event.value!r}"
    except NopostError as error:
        return str(error)
    return ""


def _session(data: dict[str, Any], knowledge: Knowledge, events: tuple[Event, ...], dropped: tuple[str, ...]) -> Session:
    person = data.get("person", {})
    tools = person.get("at_hand", ())
    gone = [f"no tool or spare is called {tool!r}" for tool in tools if tool not in knowledge.base.tools]
    return Session(
        name=data["name"],
        created=data["created"],
        knowledge=knowledge.base.name,
        edition=knowledge.base.edition,
        digest=knowledge.digest,
        person=Person(person.get("minute_rate"), frozenset(tool for tool in tools if tool in knowledge.base.tools)),
        currency=person.get("currency", ""),
        facts=data.get("facts", {}),
        machine=data.get("machine", {}),
        records=data.get("records", {}),
        events=events,
        revision=data["revision"],
        dropped=(*dropped, *gone),
    )


def _data(session: Session) -> dict[str, Any]:
    person: dict[str, Any] = {"currency": session.currency, "at_hand": sorted(session.person.at_hand)}
    if session.person.minute_rate is not None:
        person["minute_rate"] = session.person.minute_rate
    return {
        "format": "nopost-session",
        "version": VERSION,
        "name": session.name,
        "created": session.created,
        "revision": session.revision,
        "knowledge": {"name": session.knowledge, "edition": session.edition, "digest": session.digest},
        "person": person,
        "facts": dict(session.facts),
        "machine": dict(session.machine),
        "records": dict(session.records),
        "events": [{"kind": str(e.kind), "item": e.item, "value": e.value, "at": e.at} for e in session.events],
    }


def _no_number(name: str) -> None:
    """JSON has no infinity and no not-a-number."""
    raise ValueError(f"{name} is no number")


def _read(path: Path) -> dict[str, Any]:
    """A session file's data, checked against its schema. Raises SessionError."""
    from nopost.knowledge.schema import validator

    try:
        if path.exists() and not path.is_file():
            raise SessionError(f"{path}: not a plain file")  # reading a pipe would wait for ever
        with path.open("rb") as stream:
            raw = stream.read(MAX_BYTES + 1)
        if len(raw) > MAX_BYTES:
            raise SessionError(f"{path}: larger than {MAX_BYTES // 1024 // 1024} MiB; it is no session file")
        found: Any = json.loads(raw.decode("utf-8"), parse_constant=_no_number)
    except OSError as error:
        raise SessionError(f"{path}: cannot be read: {error.strerror}") from None
    except (ValueError, RecursionError):
        raise SessionError(f"{path}: damaged or cut short; it is no complete session file") from None
    fault = next(iter(validator("session.schema.json").iter_errors(found)), None)
    if fault is not None:
        where = ".".join(str(step) for step in fault.absolute_path) or "the file"
        raise SessionError(f"{path}: not a session of this program: {where}: {fault.message[:120]}")
    data: dict[str, Any] = found
    if data["name"] != path.stem:
        raise SessionError(f"{path}: the session inside is called {data['name']!r}; rename the file back")
    return data
