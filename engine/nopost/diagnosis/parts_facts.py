"""What the records of the parts settle: facts for the rules, and the parts in words.

Parts name records; a knowledge base holds them. Records in files are read once, when a history is opened (`with_records`), and
never again while it goes on: a diagnosis reads no file.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace

from nopost.diagnosis.history import Parts
from nopost.errors import KnowledgeError, NopostError
from nopost.firmware.record_facts import record_facts
from nopost.firmware.records import Records, find_board, find_cpu
from nopost.knowledge.model import Knowledge
from nopost.knowledge.reference_records import Board


@dataclass(frozen=True)
class PartsFacts:
    """`facts`: what the records settle, see `nopost.knowledge.reference_records.FACTS`.

    `problems`: a line for each part that was left out, since it does not go with the others or its record is not there.
    """

    facts: Mapping[str, str] = field(default_factory=dict)
    problems: tuple[str, ...] = ()


def with_records(knowledge: Knowledge, parts: Parts) -> Knowledge:
    """The knowledge base with the records that the parts name by a file, read now.

    `knowledge`: from `nopost.load`. `parts`: `board` and `cpu` are ids in it, or paths of files. Raises KnowledgeError for a file
    that is no record, UnknownNameError for a name that is none, and RecordError for parts that do not go with the board.

    >>> import nopost
    >>> parts = nopost.Parts(board="tb-harbour-m2", firmware="0.90", cpu="kelp-450")
    >>> knowledge = nopost.with_records(nopost.load(), parts)
    >>> nopost.diagnose(knowledge, nopost.History(parts)).seen.facts["firmware-knows-cpu"]
    'no'
    """
    known = _with_files(knowledge, parts)
    record_facts(_records(parts, known))
    return known


def with_readable_records(knowledge: Knowledge, parts: Parts) -> Knowledge:
    """The same for parts that were told another day: a record that is gone or cannot be read is left out."""
    for part in (Parts(board=parts.board), Parts(cpu=parts.cpu)):
        with contextlib.suppress(NopostError):
            knowledge = _with_files(knowledge, part)
    return knowledge


def facts_of(parts: Parts, knowledge: Knowledge) -> PartsFacts:
    """What the parts settle. Reads no file: the records must be in the knowledge base. A part that does not fit is left out."""
    problems = []
    if parts.board and parts.board not in knowledge.boards:
        problems.append(_gone("board", parts.board))
    if parts.cpu and parts.cpu not in knowledge.cpus:
        problems.append(_gone("cpu", parts.cpu))
    for fewer in _fewer_and_fewer(parts):
        try:
            return PartsFacts(record_facts(_records(fewer, knowledge)), tuple(problems))
        except NopostError as error:
            problems.append(in_one_line(error))
    return PartsFacts({}, tuple(problems))


def _gone(part: str, record: str) -> str:
    return f"the record {record} is not there any more, or cannot be read; give it again with --{part}"


def machine_words(parts: Parts, knowledge: Knowledge) -> dict[str, str]:
    """The parts in words, for reports: name of the part -> text."""
    board, cpu = knowledge.boards.get(parts.board), knowledge.cpus.get(parts.cpu)
    told = {
        "board": board_name(board) if board else "",
        "cpu": f"{cpu.title}, {cpu.cores} cores, {cpu.threads} threads" if cpu else "",
        "firmware": parts.firmware,
        "slots": ", ".join(parts.slots),
    }
    return {name: text for name, text in told.items() if text}


def board_name(board: Board) -> str:
    """The variant with the revision, which may stand in it already."""
    return board.variant if board.revision in board.variant else f"{board.variant} rev {board.revision}"


def in_one_line(error: NopostError) -> str:
    """The first thing that an error says."""
    return str(error.problems[0]) if isinstance(error, KnowledgeError) else str(error).splitlines()[0]


def _with_files(knowledge: Knowledge, parts: Parts) -> Knowledge:
    if parts.board and parts.board not in knowledge.boards:
        knowledge = replace(knowledge, boards={**knowledge.boards, parts.board: find_board(parts.board, knowledge)})
    if parts.cpu and parts.cpu not in knowledge.cpus:
        knowledge = replace(knowledge, cpus={**knowledge.cpus, parts.cpu: find_cpu(parts.cpu, knowledge)})
    return knowledge


def _records(parts: Parts, knowledge: Knowledge) -> Records:
    """The records themselves, taken from the knowledge base; what the board's record alone gives a meaning to needs one."""
    board = knowledge.boards.get(parts.board)
    records = Records(board=board, cpu=knowledge.cpus.get(parts.cpu))
    if board is None:
        return records
    return replace(records, firmware=parts.firmware, image_for=parts.image_for, slots=parts.slots, memory_type=parts.memory_type)


def _fewer_and_fewer(parts: Parts) -> Iterator[Parts]:
    """The parts, then without what is the likeliest not to fit, step by step."""
    without: tuple[Callable[[Parts], Parts], ...] = (
        lambda p: p,
        lambda p: replace(p, slots=()),
        lambda p: replace(p, firmware=""),
        lambda p: replace(p, cpu=""),
    )
    for leave_out in without:
        parts = leave_out(parts)
        yield parts
