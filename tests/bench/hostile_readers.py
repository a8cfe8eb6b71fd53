"""Every reader of the program, with good inputs and a call that reads one. A call returns whether it refused."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType

from codes.readers.test_record_formats import LISTING, NEW, SBMR, SEL, page
from firmware import dumps, images
from firmware.test_image_any_bytes import looked_at as image_looked_at
from firmware.test_smbios_any_bytes import looked_at as dump_looked_at
from firmware.test_stick_any_bytes import IMAGES as STICKS
from firmware.test_stick_any_bytes import answer as stick_answer
from nopost.batch.log_sources import log_of_line
from nopost.codes.decode import decode
from nopost.codes.tables import TableSet
from nopost.diagnosis.replay import read_answers
from nopost.firmware.release_list.list_reader import read_list
from nopost.firmware.release_list.prose import known_families_of
from nopost.knowledge.build import KINDS
from nopost.knowledge.schema import schema_problems
from nopost.knowledge.yaml_reader import read_yaml
from nopost.loading import load_knowledge
from nopost.meter.parse_readings import read_csv
from nopost.meter.reading import names_of
from nopost.store.sessions import load
from nopost.training import progress

ROOT = Path(__file__).resolve().parents[2]
CODES = (b"10 11 1D 1E 1F 20 53", b"0x53\n0x55\n[12:00:01] 92\n", b"1 long 2 short", b"memory lamp stays on", b"1-3-1")


@dataclass(frozen=True)
class Reader:
    """`good`: inputs to begin with; `read`: reads one, True when it was refused as a value."""

    good: tuple[bytes, ...]
    read: Callable[[bytes], bool | None]


def _yaml(folder: Path) -> Reader:
    path = folder / "x.yaml"

    def read(data: bytes) -> bool:
        path.write_bytes(data)
        document, problems = read_yaml(path)
        return bool(problems or schema_problems(document, KINDS["causes"].schema))

    return Reader(tuple(p.read_bytes() for p in sorted((ROOT / "kb" / "causes").glob("*.yaml"))[:12]), read)


def _codes(good: tuple[bytes, ...]) -> Callable[[Path], Reader]:
    def reader(folder: Path) -> Reader:
        tables = TableSet(load_knowledge().codes)
        return Reader(good, lambda data: not decode(data, tables))

    return reader


def _batch_line(folder: Path) -> Reader:
    tables = TableSet(load_knowledge().codes)
    good = b'"10 11 55"', b'{"id": "a", "codes": [33, "55"]}', json.dumps({"Id": "x", **page(NEW)}).encode()

    def read(data: bytes) -> bool:
        log = log_of_line(1, data)
        return bool(log.problem) or not decode(log.content, tables)

    return Reader(good, read)


def _session(folder: Path) -> Reader:
    knowledge = load_knowledge()
    path = folder / "sessions" / "x.json"
    path.parent.mkdir()
    event = {"kind": "answer", "item": "screen", "value": "no-signal", "at": "2031-05-17T10:00:00+00:00"}
    base = {"name": knowledge.base.name, "edition": knowledge.base.edition, "digest": knowledge.digest}
    whole = {"format": "nopost-session", "version": 2, "name": "x", "created": event["at"], "revision": 1, "knowledge": base}
    tried = {**event, "kind": "tried", "item": "clear-settings", "value": "same"}

    def read(data: bytes) -> None:
        path.write_bytes(data)
        load("x", knowledge)

    return Reader(tuple(json.dumps({**whole, "events": events}).encode() for events in ([], [event], [event, tried])), read)


def _answers(folder: Path) -> Reader:
    knowledge = load_knowledge()
    path = folder / "x.json"

    def read(data: bytes) -> None:
        path.write_bytes(data)
        read_answers(str(path), knowledge)

    good = (
        b'{"answers": {"screen": "no-signal"}, "tried": [{"action": "clear-settings", "outcome": "same"}]}',
        b"screen: no-signal\nresponse: runs\n",
    )
    cases = sorted((ROOT / "kb" / "cases").glob("*.yaml"))[:6]
    return Reader((*good, *(case.read_bytes() for case in cases)), read)


def _scores(folder: Path) -> Reader:
    path = folder / "drill" / "ab.json"
    path.parent.mkdir()
    done = {"day": "2031-05-17", "seed": 7, "level": "first", "causes": ["psu-dead"], "named": "", "ended": "starts", "steps": 3}
    more = {"spent": 12.0, "model_spent": 11.0, "slips": 0, "hints": 0, "quality": 4}
    whole = {"format": "nopost-drill", "version": 1, "name": "ab", "attempts": [{**done, **more}]}

    def read(data: bytes) -> None:
        path.write_bytes(data)
        progress.cards_of(progress.load_scores("ab"))

    return Reader((json.dumps(whole).encode(),), read)


def _list(folder: Path) -> Reader:
    knowledge = load_knowledge()
    families = known_families_of(knowledge.cpus.values(), knowledge.boards.values())
    lists = sorted((ROOT / "tests" / "firmware" / "release_lists").glob("*"))
    good = tuple(p.read_bytes() for p in lists if p.suffix in (".csv", ".tsv", ".txt"))
    return Reader(good, lambda data: not read_list(data, "list", families))


def _rails(folder: Path) -> Reader:
    names = names_of(load_knowledge().limits.values())
    good = b"name,volts,state,ripple\n12V,11.9,running,40\n5VSB,5.05,off,\nPS_ON,0.2,,\n", b"pin;V\n9;5,05\n8;4,9\n"
    return Reader(good, lambda data: not read_csv(data, names, "x.csv"))


def _image(folder: Path) -> Reader:
    board = load_knowledge().boards["tb-mooring-d7"]
    volume = images.volume([images.file(images.text("TB-Mooring D7") + bytes(300), kind=0x02)])
    good = volume, bytes(64) + volume + b"\xff" * 4096, images.capsule(volume)
    return Reader(good, lambda data: image_looked_at(data, board))


def _dump(folder: Path) -> Reader:
    knowledge, table = load_knowledge(), dumps.table()
    good = table, dumps.entry_30(table) + table, dumps.entry_21(table, 10) + table
    return Reader(good, lambda data: dump_looked_at(data, knowledge))


READERS: Mapping[str, Callable[[Path], Reader]] = MappingProxyType(
    {
        "yaml": _yaml,
        "code-text": _codes(CODES),
        "redfish": _codes((json.dumps(page(NEW)).encode(),)),
        "sel": _codes((SEL.encode(), LISTING.encode(), "\n".join(SBMR).encode())),
        "batch-line": _batch_line,
        "image": _image,
        "stick": lambda folder: Reader(STICKS, lambda data: stick_answer(data)),
        "smbios": _dump,
        "release-list": _list,
        "rails-csv": _rails,
        "answers": _answers,
        "session": _session,
        "scores": _scores,
    }
)
"""Name -> the reader, made with a folder of its own."""
