"""Any bytes and mutated images: always an answer, and work in line with the size."""

from __future__ import annotations

import sys
from types import FrameType

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware import images
from nopost.firmware.image.board_names import find_mentions
from nopost.firmware.image.image_check import check_image
from nopost.firmware.image.image_reader import read_image
from nopost.knowledge.model import Knowledge
from nopost.knowledge.reference_records import Board

FILES = [images.file(images.text("TB-Mooring D7L")), images.file(bytes(9), kind=0xF0), images.file(bytes(64), large=True)]
VOLUME = images.volume(FILES, blocks=1, guid=images.FFS3, extended=True)
WHOLE = (
    VOLUME,
    images.capsule(VOLUME),
    images.management([VOLUME, b"second"], drivers=[b"driver"]),
    images.capsule(images.descriptor({0: (0, 0), 1: (1, 1)}) + VOLUME),
    images.descriptor({0: (0, 0), 1: (1, 1)}, oldest=True) + VOLUME + VOLUME,
)
STARTS = (
    b"",
    bytes(16) + images.packed(images.FFS2) + bytes(8) + b"_FVH",
    images.packed(images.MANAGEMENT),
    bytes(16) + b"\x5a\xa5\xf0\x0f",
)


def looked_at(data: bytes, board: Board) -> None:
    """Read and judge, as the command does; what is found lies where it can lie."""
    image = read_image(data)
    found = check_image(image, board, find_mentions(data, board))
    assert found.why
    assert all(0 <= volume.offset < len(data) and volume.files >= 0 for volume in image.volumes)
    assert all(part.offset >= 0 and part.size > 0 for part in image.unparsed)
    assert sum(part.size for part in image.unparsed) <= len(data)
    assert 0 <= image.padding <= len(data)


@pytest.mark.slow
@given(data=st.binary(max_size=400), start=st.sampled_from(STARTS))
def test_any_bytes(knowledge: Knowledge, data: bytes, start: bytes) -> None:
    """Whatever the file holds, behind a beginning that is believed."""
    looked_at(start + data, knowledge.boards["tb-mooring-d7"])


@pytest.mark.slow
@given(
    data=st.sampled_from(WHOLE),
    changes=st.lists(st.tuples(st.integers(0, 5000) | st.integers(0, 150), st.integers(0, 255)), max_size=12),
    cut=st.integers(0, 10_000),
    more=st.binary(max_size=8),
)
def test_mutated(knowledge: Knowledge, data: bytes, changes: list[tuple[int, int]], cut: int, more: bytes) -> None:
    """Whole images with bytes changed, cut off and put in."""
    changed = bytearray(data)
    for place, value in changes:
        changed[place % len(changed)] = value
    board = knowledge.boards["tb-mooring-d7"]
    looked_at(bytes(changed[:cut]) + more + bytes(changed[cut:]), board)
    looked_at(bytes(changed[: cut % len(changed)]), board)


def calls(data: bytes, board: Board) -> int:
    """How many functions, of Python and built in, are called to look at it."""
    count = 0

    def counted(_frame: FrameType, event: str, _arg: object) -> None:
        nonlocal count
        count += event in ("call", "c_call")

    before = sys.getprofile()
    sys.setprofile(counted)
    try:
        looked_at(data, board)
    finally:
        sys.setprofile(before)
    return count


DAMAGED = VOLUME[:50] + b"\0\0" + VOLUME[52:128]
WORST = {
    "signatures": b"_FVH",
    "damaged volumes": DAMAGED,
    "volumes": VOLUME,
    "files": images.file(b""),
    "names": b"TB-Mooring D7 ",
    "half names": b"tb-mooring ",
    "wide names": "TB-Mooring D7L\0".encode("utf-16-le"),
    "ones": b"\xff",
    "runs": b"\xff" * 1023 + b"\0" * 1025,
}


@pytest.mark.slow
@pytest.mark.parametrize("kind", list(WORST))
def test_linear(knowledge: Knowledge, kind: str) -> None:
    """Four times the bytes take no more than about four times the work."""
    board, size = knowledge.boards["tb-mooring-d7"], 1 << 16
    piece = WORST[kind]
    data = piece * (size // len(piece))
    looked_at(data, board)  # what is computed once is not counted
    assert calls(data * 4, board) < 4.5 * calls(data, board) + 100
