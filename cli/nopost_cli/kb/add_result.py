"""What the whole knowledge base makes of a new item: what is wrong, and what comes next."""

from __future__ import annotations

import shlex
from collections.abc import Sequence
from pathlib import Path

from nopost.authoring.items import Judged, judge
from nopost.knowledge.problem import Problem
from nopost_cli.guided import tell

NEXT = {
    "no-causes": "there is no cause yet: nopost kb add cause --kb {kb}",
    "unused-action": "{name} is needed for nothing yet: a cause names it as its fix, or a finding as its test",
    "closed-for-ever": "{name} starts closed: nopost kb add rule --kb {kb}, to open it",
}


def show_result(root: Path, written: Sequence[Path]) -> int:
    """Tell it; 1 when what was written has errors. The files stay in any case."""
    found = judge(root, *written)
    place = shlex.quote(str(root))
    for problem in (*found.errors, *found.remarks):
        tell(str(problem))
    if found.errors:
        tell(f"The file stays. Mend it in an editor, then look again: nopost kb check {place}")
    for line in _to_come(found, place):
        tell(f"Still to come: {line}")
    if found.elsewhere:
        files = "one problem" if found.elsewhere == 1 else f"{found.elsewhere} problems"
        tell(f"There {'is' if found.elsewhere == 1 else 'are'} {files} in other files: nopost kb check {place}")
    if not (found.errors or found.to_come or found.elsewhere):
        tell(f"The knowledge base is in order. Try it: nopost diagnose --kb {place}, or look closer: nopost kb check {place}")
    return 1 if found.errors else 0


def _to_come(found: Judged, place: str) -> list[str]:
    return [NEXT[problem.code].format(name=_name(problem), kb=place) for problem in found.to_come]


def _name(problem: Problem) -> str:
    return Path(problem.path).stem
