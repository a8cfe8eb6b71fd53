"""Functions of the public interface, see `nopost`. They join what stands in the rooms; nothing is computed here."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:  # each function imports its room when it is called, so that `import nopost` costs nothing
    from nopost.codes.decode import Decoded
    from nopost.firmware.route.route_plan import FirmwarePlan
    from nopost.knowledge.model import Knowledge
    from nopost.linting.runner import LintResult


def load(folder: str | Path | None = None) -> Knowledge:
    """Read and check a knowledge base.

    `folder`: where its base.yaml lies; None: the one that is shipped. Raises KnowledgeError, which carries every problem of every
    file with its line.

    >>> import nopost
    >>> "memory-not-seated" in nopost.load().causes
    True
    """
    from nopost.loading import load_knowledge

    return load_knowledge(None if folder is None else Path(folder))


def decode(knowledge: Knowledge, text: str | bytes, table: str | None = None) -> list[Decoded]:
    """What POST codes, stage lamps, beeps or a boot log say.

    `knowledge`: from `load`; its code tables are used. `text`: as it was typed, pasted or read from a file. `table`: id of the
    code table that the board follows; None: the one that fits best. One result for each form of sign that was found, the one that
    tells most first; empty when nothing was read. Its `answers` are answers to findings. Raises UnknownNameError for a table that
    the knowledge base does not have.

    >>> import nopost
    >>> nopost.decode(nopost.load(), "three short beeps")[0].reading.form.value
    'beeps'
    """
    from nopost.codes.decode import decode as decode_text
    from nopost.codes.tables import TableSet

    return decode_text(text, TableSet(knowledge.codes, knowledge.base.roles), table=table)


def plan_firmware(
    knowledge: Knowledge,
    board: str,
    firmware: str,
    cpu: str,
    *,
    fitted: str | None = None,
    donors: Sequence[str] = (),
    tools: Sequence[str] = (),
    minute_rate: float | None = None,
) -> FirmwarePlan:
    """The way from the firmware that a board has to one that knows a CPU.

    `knowledge`: from `load`; it holds the records and the prices. `board`, `cpu`, `fitted`, `donors`: records, by id or by file.
    `firmware`: release on the board; "" when nobody knows and `old-cpu` is among the donors. `fitted`: the CPU that is in it now;
    None: the one that it shall run. `donors`: CPUs at hand to start it with; `old-cpu` is one that ran in this board. `tools`: of
    `stick` and `second-machine`. `minute_rate`: money that a minute is worth; None: as the knowledge base says.

    The plan's `steps` each have their effort in minutes, money and risk. Its `routes` are empty when no way leads there; then
    `missing` says what is missing. Raises UnknownNameError for a name that is none, KnowledgeError for a file that is no record,
    and RecordError for a release or a CPU that does not go with the board.

    >>> import nopost
    >>> plan = nopost.plan_firmware(nopost.load(), "tb-harbour-m2", "0.90", "kelp-240", tools=["stick", "second-machine"])
    >>> len(plan.steps) > 0
    True
    """
    from nopost.firmware.records import find_board, find_cpu
    from nopost.firmware.route.moves import prices_of
    from nopost.firmware.route.route_plan import make_plan
    from nopost.firmware.route.task import OLD_CPU, make_task

    target = find_cpu(cpu, knowledge)
    present = target if fitted is None else find_cpu(fitted, knowledge)
    lent = [name if name == OLD_CPU else find_cpu(name, knowledge) for name in donors]
    task = make_task(find_board(board, knowledge), firmware, target, present, lent, tools)
    return make_plan(task, prices_of(knowledge.base, minute_rate), target.socket)


def lint(folder: str | Path | None = None) -> LintResult:
    """Check a knowledge base in all ways: what keeps it from loading, and what is likely to be a mistake.

    `folder`: where its base.yaml lies; None: the one that is shipped. The result's `problems` each have a code, a severity, file
    and line (from 1; 0: the whole file), and what to do. Nothing that is wrong in the files is raised.

    >>> import nopost
    >>> [problem.code for problem in nopost.lint().problems]
    []
    """
    from nopost.files import data_dir
    from nopost.linting.runner import lint as lint_folder

    return lint_folder(data_dir("kb") if folder is None else Path(folder))
