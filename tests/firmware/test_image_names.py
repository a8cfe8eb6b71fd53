"""Does the image fit? Names of invented boards written into images; a suffix more never passes as the shorter name."""

from __future__ import annotations

import dataclasses
import hashlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware import images
from nopost.errors import UnknownNameError
from nopost.firmware.check_result import Level
from nopost.firmware.image.board_names import find_mentions
from nopost.firmware.image.image_check import Fit, ImageVerdict, check_image
from nopost.firmware.image.image_reader import read_image
from nopost.knowledge.model import Knowledge
from nopost.knowledge.reference_records import Board, Release

SLIPWAY, HARBOUR, MOORING = "tb-slipway-a1", "tb-harbour-m2", "tb-mooring-d7"


def judged(board: Board, *pieces: bytes, release: str = "") -> ImageVerdict:
    """The judgement of an image with these bytes in a file of its volume."""
    data = images.volume([images.file(b"\x90".join(pieces))])
    return check_image(read_image(data), board, find_mentions(data, board), release)


CASES = [
    (MOORING, "TB-Mooring D7 rev 1.0", Fit.FITS),
    (MOORING, "Mooring D7", Fit.FITS),
    (MOORING, "TBM-D7", Fit.FITS),
    (MOORING, "tb_mooring-d7", Fit.FITS),
    (MOORING, "TBMOORINGD7.ROM", Fit.FITS),
    (MOORING, "TB-Mooring D7 firmware D-07", Fit.FITS),
    (MOORING, "Mooring D7 D-07", Fit.FITS),
    (MOORING, "Board: TB-Mooring D7.", Fit.FITS),
    (MOORING, "TB-Mooring D7 (rev. 1.0)", Fit.FITS),
    (MOORING, "TB-Mooring D7L", Fit.OTHER),
    (MOORING, "TB-Mooring D7X", Fit.OTHER),
    (MOORING, "TB-Mooring D7+", Fit.OTHER),
    (MOORING, "TB-Mooring D7-L", Fit.OTHER),
    (MOORING, "TB-Mooring D7/wide", Fit.OTHER),
    (MOORING, "TB-Mooring D7 rev 1.01", Fit.OTHER),
    (MOORING, "TB-Mooring D7 rev 2.0", Fit.OTHER),
    (MOORING, "TB-Mooring D70", Fit.OTHER),
    (MOORING, "TB-Mooring D7.1", Fit.OTHER),
    (MOORING, "TB-Mooring D7 L", Fit.OTHER),
    (MOORING, "TB-Mooring D7 wide", Fit.UNKNOWN),
    (MOORING, "TB-Mooring D7 v9", Fit.UNKNOWN),
    (MOORING, "TB-Mooring D", Fit.UNKNOWN),
    (MOORING, "XTBM-D7", Fit.UNKNOWN),
    (MOORING, "TB-Slipway A1", Fit.UNKNOWN),
    (SLIPWAY, "TB-Slipway A1", Fit.FITS),
    (SLIPWAY, "TB-Slipway A1 mini", Fit.OTHER),
    (SLIPWAY, "Slipway A1 mini", Fit.OTHER),
    (SLIPWAY, "Slipway A1 maxi", Fit.UNKNOWN),
    (HARBOUR, "TBH-M2-11", Fit.FITS),
    (HARBOUR, "TB-Harbour M2 rev 1.1", Fit.FITS),
    (HARBOUR, "TB-Harbour M2 Rev. 1.1", Fit.FITS),
    (HARBOUR, "TB-Harbour M2 0.110", Fit.UNKNOWN),
    (HARBOUR, "TB-Harbour M2", Fit.UNKNOWN),
    (HARBOUR, "Harbour M2", Fit.UNKNOWN),
    (HARBOUR, "TB-Harbour M2 rev 2.0", Fit.OTHER),
    (HARBOUR, "TB-Harbour M2W", Fit.OTHER),
    (HARBOUR, "TBH-M2-112", Fit.OTHER),
]


@pytest.mark.parametrize("wide", [False, True])
@pytest.mark.parametrize(("board", "name", "fit"), CASES)
def test_fit(knowledge: Knowledge, board: str, name: str, fit: Fit, wide: bool) -> None:
    """In ASCII and in UTF-16LE."""
    found = judged(knowledge.boards[board], images.text(name, wide=wide))
    assert found.fit is fit, found.why
    if fit is Fit.OTHER:
        assert f"“{name}”" in found.why or (name.startswith("TB-") and name[3:] in found.why)


def test_both(knowledge: Knowledge) -> None:
    """Own name and a look-alike's: nobody can tell."""
    found = judged(knowledge.boards[MOORING], images.text("TB-Mooring D7"), images.text("TB-Mooring D7L", wide=True))
    assert found.fit is Fit.UNKNOWN
    assert "TB-Mooring D7L" in found.why


def test_nothing_to_find(knowledge: Knowledge) -> None:
    """An image whose names are compressed, and no record at all."""
    assert judged(knowledge.boards[MOORING], bytes(100)).fit is Fit.UNKNOWN
    assert check_image(read_image(images.volume())).fit is Fit.UNKNOWN


@pytest.mark.slow
@given(suffix=st.text("ABWXL0129+-_/.", min_size=1, max_size=4), wide=st.booleans())
def test_suffix_never_passes(knowledge: Knowledge, suffix: str, wide: bool) -> None:
    """Whatever is hung on with a letter or digit in it does not fit; only a file's ending begins with a dot."""
    board = dataclasses.replace(knowledge.boards[MOORING], revision="")
    found = judged(board, images.text("TB-Mooring D7" + suffix, wide=wide))
    if any(letter.isalnum() for letter in suffix) and not suffix.startswith("."):
        assert found.fit is not Fit.FITS, found.why


@pytest.mark.slow
@given(name=st.sampled_from(["TB-Mooring D7L", "TB-Mooring D7", "TBM-D7"]), junk=st.binary(max_size=40), wide=st.booleans())
def test_longest_name_counts(knowledge: Knowledge, name: str, junk: bytes, wide: bool) -> None:
    """The look-alike whose name holds the board's own is never taken for it, whatever stands before and behind."""
    found = judged(knowledge.boards[MOORING], junk, images.text(name, wide=wide), junk)
    assert (found.fit is Fit.FITS) == (name != "TB-Mooring D7L")


def with_releases(board: Board, data: bytes) -> Board:
    """The board with the image's SHA-256 and size on its second release, and another on its third."""
    first, second, third = board.releases[:3]
    digest = hashlib.sha256(data).hexdigest()
    changed: tuple[Release, ...] = (
        first,
        dataclasses.replace(second, sha256=digest, size=len(data)),
        dataclasses.replace(third, sha256="0" * 64, size=len(data) + 1),
    )
    return dataclasses.replace(board, releases=changed, recovery={**board.recovery, "chip_size": len(data)})


def test_digest(knowledge: Knowledge) -> None:
    """The SHA-256 settles it, against names too; another release than the one that was meant is told."""
    data = images.volume([images.file(images.text("TB-Mooring D7L"))])
    board = with_releases(knowledge.boards[MOORING], data)
    image, mentions = read_image(data), find_mentions(data, board)
    found = check_image(image, board, mentions)
    assert (found.fit, found.release) == (Fit.FITS, "D-05")
    codes = {remark.code: remark.level.value for remark in check_image(image, board, mentions, "D-07").results}
    assert codes == {"chip-size": "good", "release-size": "fix", "sha256": "fix"}
    changed = data[:-1] + b"\0"
    found = check_image(read_image(changed), board, find_mentions(changed, board), "D-05")
    assert (found.fit, found.release) == (Fit.OTHER, "")
    assert ["damaged" in remark.text for remark in found.results if remark.code == "sha256"] == [True]
    with pytest.raises(UnknownNameError):
        check_image(image, board, mentions, "D-99")


@pytest.mark.parametrize(("blocks", "level"), [(3, "note"), (4, "good"), (5, "fix")])
def test_chip_size(knowledge: Knowledge, blocks: int, level: str) -> None:
    """What would go into the chip is compared, without the capsule's header."""
    board = knowledge.boards[MOORING]
    board = dataclasses.replace(board, recovery={**board.recovery, "chip_size": 4 * images.BLOCK})
    for data in (images.volume(blocks=blocks), images.capsule(images.volume(blocks=blocks), header=4096)):
        found = check_image(read_image(data), board)
        assert [remark.level.value for remark in found.results if remark.code == "chip-size"] == [level]


def test_remarks(knowledge: Knowledge) -> None:
    """What is broken, blank, packed or unknown is said, with or without a record."""
    whole = images.flash([images.volume()])
    for data, code in (
        (whole[:0x60000], "region"),
        (images.volume()[:0x2000], "volume"),
        (images.management([b"abc"])[:-1], "capsule"),
        (b"\xff" * 5000, "blank"),
        (b"PK\x03\x04" + bytes(50), "other-form"),
        (b"nothing of the kind", "unknown"),
    ):
        assert {remark.code for remark in check_image(read_image(data)).results} == {code}
    board = knowledge.boards[MOORING]
    board = dataclasses.replace(board, recovery={**board.recovery, "chip_size": len(whole) * 2})
    assert {remark.code for remark in check_image(read_image(whole), board).results} == {"chip-size", "descriptor-size"}


def test_packed_sections() -> None:
    """Sections that have to be unpacked are counted and told; plain ones and raw files are not."""
    plain = images.section(0x19, b"raw") + images.guided(b"check", processing=False) + images.compressed(b"as it is", kind=0)
    packed = images.file(images.guided(b"inside") + images.section(0x15, b"n\0a\0\0\0") + images.compressed(b"more"), kind=0x07)
    data = images.volume([images.file(plain, kind=0x07), packed, images.file(images.guided(b"raw"), kind=0x01)])
    (volume,) = read_image(data).volumes
    assert (volume.packed, volume.faults) == (2, ())
    (remark,) = [each for each in check_image(read_image(data)).results if each.code == "packed"]
    assert "2 sections are compressed or packed in another way (GUID-defined); the inside of them is not read" in remark.text
    (alone,) = [each for each in check_image(read_image(images.volume([packed]))).results if each.code == "packed"]
    assert alone.level is Level.NOTE


@pytest.mark.parametrize(
    ("file", "release", "level", "told"),
    [
        ("BUTTON.ROM", "D-07", "good", "wants"),
        ("button.rom", "", "check", "letter for letter"),
        ("FIVE.CAP", "D-05", "good", "that of release D-05"),
        ("five.cap", "", "note", "By its name it is release D-05"),
        ("FIVE.CAP", "D-07", "check", "that of release D-05, not of D-07"),
        ("download.bin", "D-05", "note", "called FIVE.CAP"),
        ("download.bin", "", "", ""),
        ("", "D-05", "", ""),
    ],
)
def test_file_names(knowledge: Knowledge, file: str, release: str, level: str, told: str) -> None:
    """The name of a release, of another one, of the button, or of none."""
    board = knowledge.boards[MOORING]
    names = {"D-05": "FIVE.CAP", "D-07": "SEVEN.CAP"}
    releases = tuple(dataclasses.replace(each, file=names.get(each.version, "")) for each in board.releases)
    board = dataclasses.replace(board, releases=releases, recovery={**board.recovery, "button_file": "BUTTON.ROM"})
    found = [r for r in check_image(read_image(images.volume()), board, (), release, file).results if r.code == "file-name"]
    assert [r.level.value for r in found] == ([level] if level else [])
    assert all(told in r.text for r in found)
