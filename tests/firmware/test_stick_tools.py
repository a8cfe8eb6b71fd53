"""The same images before the programs of a Debian system: what they make is read, and what they say is compared."""

from __future__ import annotations

import os
import shutil
import subprocess
from pathlib import Path

import pytest

from nopost.firmware.stick.stick_reader import inspect_path
from stick_images import SECTOR, exfat_entry, fat

SEARCH = os.pathsep.join((os.environ.get("PATH", ""), "/usr/sbin", "/sbin"))


def tool(name: str, *words: str, given: str | None = None, most: int = 0) -> str:
    """Run a program of the system; skip where it is missing. `most`: highest exit code that is well."""
    found = shutil.which(name, path=SEARCH)
    if found is None:
        pytest.skip(f"{name} is not installed here")
    done = subprocess.run([found, *words], capture_output=True, encoding="utf-8", errors="replace", input=given, timeout=120)
    assert 0 <= done.returncode <= most, done.stdout + done.stderr
    return done.stdout


def blank(folder: Path, size: int) -> Path:
    """An empty image."""
    path = folder / "stick.img"
    with open(path, "wb") as stream:
        stream.truncate(size)
    return path


@pytest.mark.parametrize(
    ("size", "words", "kind"),
    [
        (1 << 20, ["-F", "12"], "FAT12"),
        (16 << 20, ["-F", "16"], "FAT16"),
        (64 << 20, ["-F", "32", "-s", "1"], "FAT32"),
        (600 << 20, ["-F", "32"], "FAT32"),
        (300 << 20, [], ""),
        (3 << 20, [], ""),
    ],
)
def test_formatted_fat(tmp_path: Path, size: int, words: list[str], kind: str) -> None:
    """mkfs.vfat formats; the kind is the one of blkid and of file, and mtools' files are found letter for letter."""
    path = blank(tmp_path, size)
    tool("mkfs.vfat", *words, "-n", "TIDEWATER", str(path))
    content = tmp_path / "content"
    content.write_bytes(bytes(range(256)) * 700)
    for name in ("TBBX1.ROM", "tbbx1 (1).ROM.txt", "lower.rom"):
        tool("mcopy", "-i", str(path), str(content), f"::{name}")
    tool("mmd", "-i", str(path), "::Folder")
    tool("mcopy", "-i", str(path), str(content), "::Folder/Inside it.ROM")
    stick = inspect_path(path)
    (volume,) = stick.volumes
    assert not kind or volume.file_system.kind == kind
    assert (volume.file_system.problems, volume.problems, volume.label, stick.table.kind) == ((), (), "TIDEWATER", "none")
    assert {e.path: (e.size, e.whole) for e in volume.entries if not e.is_folder} == {
        name: (256 * 700, True) for name in ("TBBX1.ROM", "tbbx1 (1).ROM.txt", "lower.rom", "Folder/Inside it.ROM")
    }
    assert tool("blkid", "-p", "-s", "VERSION", "-o", "value", str(path)).strip() == volume.file_system.kind
    assert f"FAT ({volume.file_system.kind[3:]} bit)" in tool("file", "-s", str(path))


@pytest.mark.parametrize("clusters", [4083, 4084, 4085, 4086, 65523, 65524, 65525, 65526])
def test_limits_of_the_rule(tmp_path: Path, clusters: int) -> None:
    """At the exact limits fsck.vfat goes by the same rule. (blkid is off by one there, so it is asked one step away.)"""
    path = tmp_path / "stick.img"
    path.write_bytes(fat(clusters, says=b"FAT32   " if clusters > 65524 else b"FAT16   "))
    kind = inspect_path(path).volumes[0].file_system.kind
    assert f"{kind[3:]} bit entries" in tool("fsck.vfat", "-n", "-v", str(path), most=1)
    if clusters not in (4084, 65524):
        assert tool("blkid", "-p", "-s", "VERSION", "-o", "value", str(path)).strip() == kind


def test_small_volume_forced_to_fat32(tmp_path: Path) -> None:
    """mkfs.vfat -F 32 on a small stick makes what edk2 FatPkg refuses: laid out as FAT32 with too few clusters."""
    path = blank(tmp_path, 16 << 20)
    tool("mkfs.vfat", "-F", "32", str(path))
    system = inspect_path(path).volumes[0].file_system
    assert (system.says, system.kind) == ("FAT32", "FAT16")
    assert "laid out as FAT32" in system.problems[0]


@pytest.mark.parametrize("words", [[], ["-c", "32K"]])
def test_formatted_exfat(tmp_path: Path, words: list[str]) -> None:
    """mkfs.exfat formats, the tests write an entry, fsck.exfat says whether the entry is right; then it is read."""
    path = blank(tmp_path, 64 << 20)
    tool("mkfs.exfat", "-L", "Tide", *words, str(path))
    (volume,) = inspect_path(path).volumes
    assert (volume.file_system.kind, volume.file_system.problems, volume.label, volume.entries) == ("exFAT", (), "Tide", ())
    with open(path, "r+b") as stream:
        boot = stream.read(SECTOR)
        heap, root = int.from_bytes(boot[88:92], "little"), int.from_bytes(boot[96:100], "little")
        stream.seek((heap << boot[108]) + ((root - 2) << boot[108] + boot[109]))
        folder = stream.read(SECTOR)
        used = next(offset for offset in range(0, SECTOR, 32) if folder[offset] == 0)
        stream.seek(-SECTOR + used, os.SEEK_CUR)
        stream.write(exfat_entry("Empty file of 0 bytes.ROM"))
    tool("fsck.exfat", "-n", str(path))
    assert [entry.name for entry in inspect_path(path).volumes[0].entries] == ["Empty file of 0 bytes.ROM"]
    assert tool("blkid", "-p", "-s", "TYPE", "-o", "value", str(path)).strip() == "exfat"


@pytest.mark.parametrize("label", ["dos", "gpt"])
def test_partitioned(tmp_path: Path, label: str) -> None:
    """sfdisk partitions: starts and sizes are the ones it reports, and a FAT in the first partition is found."""
    path = blank(tmp_path, 80 << 20)
    kinds = ("c", "1b", "7") if label == "dos" else ("U", "L", "L")
    script = f"label: {label}\n" + "".join(f"size=40960, type={kind}\n" for kind in kinds)
    tool("sfdisk", "-q", str(path), given=script)
    tool("mkfs.vfat", "--offset", "2048", "-F", "16", str(path), "20480")
    stick = inspect_path(path)
    dump = [line for line in tool("sfdisk", "-d", str(path)).splitlines() if "start=" in line]
    said = [tuple(int(part.split("=")[1]) for part in line.split(":")[1].split(",")[:2]) for line in dump]
    assert [(p.start // SECTOR, p.size // SECTOR) for p in stick.table.partitions] == said
    assert (stick.table.kind, stick.table.problems) == ({"dos": "MBR", "gpt": "GPT"}[label], ())
    assert stick.volumes[0].file_system.kind == "FAT16"
    if label == "dos":
        assert [p.hidden for p in stick.table.partitions] == [False, True, False]
        assert [f"{p.kind.lower().lstrip('0')}" for p in stick.table.partitions] == list(kinds)


@pytest.mark.parametrize(
    ("damage", "doubt"),
    [
        (None, ""),
        ((-512, b"X"), "is missing"),
        ((-500, b"XX"), "check value of the backup"),
        ((-33 * 512, b"XXXX"), "lists other partitions"),
    ],
)
@pytest.mark.slow
def test_gpt_backup(tmp_path: Path, damage: tuple[int, bytes] | None, doubt: str) -> None:
    """sgdisk makes a GPT and checks it: it calls it corrupt where a doubt is named here, and only there."""
    path = blank(tmp_path, 40 << 20)
    tool("sgdisk", "-n", "1:2048:+20M", "-t", "1:0700", "-c", "1:TIDE", str(path))
    if damage is not None:
        with open(path, "r+b") as stream:
            stream.seek(damage[0], os.SEEK_END)
            stream.write(damage[1])
    table = inspect_path(path).table
    assert (table.kind, table.problems, [p.title for p in table.partitions]) == ("GPT", (), ["TIDE"])
    told = tool("sgdisk", "-v", str(path), most=4)
    assert ("corrupt GPT" in told) == bool(table.doubts) == bool(doubt)
    assert doubt in "".join(table.doubts)


def test_formatted_ntfs(tmp_path: Path) -> None:
    """mkntfs, where it is installed: the signature."""
    path = blank(tmp_path, 16 << 20)
    tool("mkntfs", "-q", "-F", str(path))
    assert inspect_path(path).volumes[0].file_system.kind == "NTFS"
