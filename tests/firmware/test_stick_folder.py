"""Mounted folders, and small things that are said about sizes and names."""

from __future__ import annotations

from pathlib import Path

import pytest

from nopost.firmware.check_result import byte_count
from nopost.firmware.stick.file_check import fits_83
from nopost.firmware.stick.partition_table import ButtonRequirements
from nopost.firmware.stick.stick_check import check_stick
from nopost.firmware.stick.stick_reader import inspect_folder, mount_kind

MIB = 1 << 20
WANTED = ButtonRequirements("BOARD.ROM")


# 8.3 names and the reserved ones: edk2 FatPkg; published file-naming rules.
@pytest.mark.parametrize(
    ("name", "fits"),
    [
        ("BOARD.ROM", True),
        ("ABCDEFGH.ABC", True),
        ("ABCDEFGHI.ROM", False),
        ("A.ROMS", False),
        ("A.B.C", False),
        ("NUL.ROM", False),
        ("COM1", False),
        ("A B.ROM", False),
        ("A+B.ROM", False),
        (".ROM", False),
        ("LPT9.A", False),
        ("COM0", True),
    ],
)
def test_short_names(name: str, fits: bool) -> None:
    """What fits in eight and three."""
    assert fits_83(name) is fits


def test_folder(tmp_path: Path) -> None:
    """A folder that is no mounted stick: names are judged, the file system of the disk it lies on is not."""
    (tmp_path / "sub").mkdir()
    (tmp_path / "sub" / "BOARD.ROM").write_bytes(bytes(70000))
    found = inspect_folder(tmp_path)
    assert {entry.path: entry.size for entry in found.volumes[0].entries} == {"sub": 0, "sub/BOARD.ROM": 70000}
    assert {"wrong-place", "not-the-top", "table-unseen"} == {r.code for r in check_stick(found, WANTED).results}


def test_kind_of_a_mount(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The longest mount point counts, blanks stand as octal; a mounted FAT goes by its number of clusters."""
    mounts = tmp_path / "mounts"
    mounts.write_text(f"a / ext4 rw 0 0\nb /media/my\\040stick exfat rw 0 0\nc {tmp_path} vfat rw 0 0\nshort line\n")
    assert mount_kind("/media/my stick/x", mounts) == "exfat"
    assert mount_kind("/media/my stick2", mounts) == "ext4"
    assert mount_kind("/x", tmp_path / "none") == ""

    class Blocks:
        f_blocks, f_frsize = 65524, 4096

    monkeypatch.setattr("os.statvfs", lambda path: Blocks)
    assert inspect_folder(tmp_path, mounts).volumes[0].file_system.kind == "FAT16"


def test_sizes_as_people_say_them() -> None:
    """Units of 1024, with the exact number when it is not whole."""
    assert [byte_count(n) for n in (5, 1024, 16 * MIB, 1500)] == ["5 bytes", "1 KiB", "16 MiB", "1.465 KiB (1500 bytes)"]
