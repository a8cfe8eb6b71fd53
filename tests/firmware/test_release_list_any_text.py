"""Any text, and any bytes, as a list of releases: never an error but ours, and what comes out is a good record."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nopost.errors import NopostError
from nopost.firmware.release_list.board_record import check_record, firmware_part, guess_comments, record_text
from nopost.firmware.release_list.list_reader import MOST_BYTES, read_list
from nopost.firmware.release_list.prose import Families
from nopost.knowledge.yaml_reader import parse_yaml

FAMILIES = Families(frozenset({"kelp-1", "kelp-2"}), {"kelp-240": "kelp-2"})
WORDS = (
    *(
        "Version",
        "1.9",
        "1.12",
        "v2",
        "F5",
        "this version",
        "any later release",
        "2031-05-17",
        "17/05/2031",
        "May 17, 2031",
        "16 MB",
    ),
    *("requires", "update to", "before", "first", "must be installed", "or later", "only from", "cannot", "go back", "downgrade"),
    *(
        "is not possible",
        "adds support for",
        "removes support for",
        "no longer supports",
        "Kelp 3",
        "series",
        "CPUs",
        "and",
        "unless",
    ),
    *(
        ",",
        ";",
        "\t",
        "|",
        "\n",
        "\n\n",
        "- ",
        ". ",
        ": ",
        '"',
        "\n| ",
        " |\n",
        "# ",
        "\r",
        "\x85",
        "\u2028",
        "é",
        "\u202e",
        "{",
        "}",
    ),
)
NEAR = st.lists(st.sampled_from(WORDS), max_size=60).map(" ".join)
ROWS = st.lists(st.tuples(st.sampled_from(("1.9", "F5", "v2", "1.12 beta")), st.dates(), NEAR), min_size=1, max_size=6).map(
    lambda rows: "\n".join(f"{version}\t{day.isoformat()}\t{notes}" for version, day, notes in rows)
)


def holds(raw: bytes) -> None:
    """Read it, write it, read it back."""
    try:
        listed = read_list(raw, "list", FAMILIES)
    except NopostError:
        return
    data = {"firmware": firmware_part(listed)}
    text = record_text(data, guess_comments(listed, data["firmware"]))
    document, problems = parse_yaml(text, "text")
    assert (problems, document.data) == ([], data)
    codes = {problem.code for problem in check_record(text, "text", whole=False)}
    assert codes <= {"release-twice", "unknown-name"}, codes


@given(st.text(max_size=400))
def test_any_text(text: str) -> None:
    """Text of any characters."""
    holds(text.encode("utf-8", "surrogatepass"))


@given(st.binary(max_size=400))
def test_any_bytes(raw: bytes) -> None:
    """Bytes of any encoding."""
    holds(raw)


@pytest.mark.slow
@given(st.one_of(NEAR, ROWS), st.sampled_from(("utf-8", "utf-16", "utf-16-le", "utf-8-sig")))
def test_near_lists(text: str, encoding: str) -> None:
    """Text that is nearly a list."""
    holds(text.encode(encoding))


@pytest.mark.slow
@pytest.mark.parametrize(
    "piece",
    [
        "update to ",
        "before ",
        "requires version ",
        "adds support for a ",
        "cannot ",
        "a,",
        "| ",
        '"',
        "1.9 or later ",
        "the " * 3,
        "1",
        " ",
        "\n",
        "- x\n",
        "(",
        "\u00e9",
    ],
)
def test_long_input(piece: str) -> None:
    """A quarter of a megabyte of one piece, alone and as the notes of a release: no phrase is searched in all of it."""
    for head in ("", "version\tdate\tnotes\n1.9\t2031-05-17\t"):
        holds((head + piece * (MOST_BYTES // 8 // len(piece))).encode())
