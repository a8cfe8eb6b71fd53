"""Sessions on disk: one JSON file each, written whole after every answer, read with care."""

from __future__ import annotations

import json
import os
import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from itertools import count
from pathlib import Path
from typing import Any

from nopost.diagnosis.history import Event, EventKind, History, Parts, event_problem, now, renamed_event
from nopost.diagnosis.inventory import check_there
from nopost.errors import SessionError, UnknownNameError
from nopost.files import locked, user_dir, write_atomically
from nopost.knowledge.model import Knowledge

NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,79}")
MAX_BYTES = 4 * 1024 * 1024
VERSION = 4
"""Of the format that is written. 1 to 3 are still read: 1 had no `records`, 2 what follows from them too; 3 had no `there`."""


@dataclass(frozen=True)
class Session:
    """A history with a name, as it is kept.

    `created`: when it began, ISO 8601 in UTC. `edition`, `digest`: of the knowledge base called `knowledge` that asked; `kb`: its
    folder when it is not the shipped one. `currency`: in which money is shown. `revision`: how often it was written. `dropped`:
    what this edition does not know of it any more.
    """

    name: str
    created: str
    knowledge: str
    edition: str
    digest: str
    history: History = field(default_factory=History)
    kb: str = ""
    currency: str = ""
    revision: int = 0
    dropped: tuple[str, ...] = ()

    def with_history(self, history: History) -> Session:
        """The session with another history."""
        return replace(self, history=history)

    def add(self, kind: EventKind, item: str = "", value: str = "", text: str = "") -> Session:
        """The session with one more event in its history, of this moment."""
        return self.with_history(self.history.add(kind, item, value, text))


def new_session(name: str, knowledge: Knowledge, history: History | None = None) -> Session:
    """A session that begins now."""
    base = knowledge.base
    return Session(name, now(), base.name, base.edition, knowledge.digest, history or History())


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
    return _session(_read(path), knowledge)


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
    data = _read(path)
    told = data["knowledge"].get("folder") or data.get("records", {}).get("kb")
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


def _session(data: dict[str, Any], knowledge: Knowledge) -> Session:
    """The session of a file's data, for this knowledge base; what this does not know goes to `dropped`."""
    events, dropped = [], []
    for raw in data["events"]:
        event = Event(EventKind(raw["kind"]), raw.get("item", ""), raw.get("value", ""), raw["at"], raw.get("text", ""))
        event, problem = renamed_event(event, knowledge)
        if problem := problem or event_problem(event, knowledge):
            dropped.append(problem)
        else:
            events.append(event)
    person = data.get("person", {})
    tools = person.get("at_hand", ())
    dropped += [f"no tool or spare is called {tool!r}" for tool in tools if tool not in knowledge.base.tools]
    records = data.get("records", {})
    if data["version"] == 1 and data.get("facts"):  # it kept what a record settled, and not which record it was
        dropped.append("what the board's record settled: the file does not say which record it was; give --board again")
    there = _there(records.get("there", {}), knowledge, dropped)
    parts = replace(
        Parts.of_records({**records, "there": there}),
        at_hand=frozenset(tool for tool in tools if tool in knowledge.base.tools),
        minute_rate=person.get("minute_rate"),
    )
    return Session(
        name=data["name"],
        created=data["created"],
        knowledge=knowledge.base.name,
        edition=knowledge.base.edition,
        digest=knowledge.digest,
        history=History(parts, tuple(events)),
        kb=data["knowledge"].get("folder") or records.get("kb", ""),
        currency=person.get("currency", ""),
        revision=data["revision"],
        dropped=tuple(dropped),
    )


def _there(told: dict[str, str], knowledge: Knowledge, dropped: list[str]) -> dict[str, str]:
    """What was told to be there, as far as this knowledge base knows it; what it does not goes to `dropped`."""
    known = {}
    for entry, choice in told.items():
        try:
            check_there(knowledge, {entry: choice})
        except UnknownNameError as unknown:
            dropped.append(str(unknown))
        else:
            known[entry] = choice
    return known


def _data(session: Session) -> dict[str, Any]:
    parts = session.history.parts
    person: dict[str, Any] = {"currency": session.currency, "at_hand": sorted(parts.at_hand)}
    if parts.minute_rate is not None:
        person["minute_rate"] = parts.minute_rate
    knowledge = {"name": session.knowledge, "edition": session.edition, "digest": session.digest}
    return {
        "format": "nopost-session",
        "version": VERSION,
        "name": session.name,
        "created": session.created,
        "revision": session.revision,
        "knowledge": {**knowledge, **({"folder": session.kb} if session.kb else {})},
        "person": person,
        "records": {**parts.named(), **({"there": dict(parts.there)} if parts.there else {})},
        "events": [event_data(event) for event in session.history.events],
    }


def event_data(event: Event) -> dict[str, str]:
    """An event as it is kept; its text only when it has one."""
    data = {"kind": str(event.kind), "item": event.item, "value": event.value, "at": event.at}
    return {**data, "text": event.text} if event.text else data


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
