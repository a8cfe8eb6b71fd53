"""Writing a file: all of the new one or all of the old one."""

from __future__ import annotations

import errno
import os
from pathlib import Path

import pytest

from nopost.files import write_atomically


@pytest.fixture
def file(tmp_path: Path) -> Path:
    """A file with something in it, alone in its folder."""
    path = tmp_path / "folder" / "file.json"
    path.parent.mkdir()
    path.write_bytes(b"old")
    return path


def only(path: Path) -> bytes:
    """What is in the file; nothing else lies beside it."""
    assert [p.name for p in path.parent.iterdir()] == [path.name]
    return path.read_bytes()


def test_it_replaces(file: Path) -> None:
    """The new content, whole, and no trace of the way there."""
    write_atomically(file, b"new\0\n" * 1000)
    assert only(file) == b"new\0\n" * 1000


def test_it_creates(tmp_path: Path) -> None:
    """A file that was not there."""
    path = tmp_path / "deep" / "new"
    path.parent.mkdir()
    write_atomically(path, b"")
    assert only(path) == b""


@pytest.mark.parametrize("call", ["fsync", "replace"])
@pytest.mark.parametrize("failure", [OSError(errno.ENOSPC, "No space left on device"), KeyboardInterrupt()])
def test_a_failure_leaves_the_old_file(file: Path, monkeypatch: pytest.MonkeyPatch, call: str, failure: BaseException) -> None:
    """A full disk or a break key, before or at the rename."""

    def fail(*_: object) -> None:
        raise failure

    monkeypatch.setattr(os, call, fail)
    with pytest.raises(type(failure)):
        write_atomically(file, b"new")
    monkeypatch.undo()
    assert only(file) == b"old"


def test_a_folder_that_cannot_be_flushed_is_no_failure(file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Not every system can; the file itself is already safe."""

    real = os.open

    def no_folders(path: str, flags: int, mode: int = 0o777) -> int:
        if flags & os.O_DIRECTORY:
            raise PermissionError(errno.EACCES, "Permission denied")
        return real(path, flags, mode)

    monkeypatch.setattr(os, "open", no_folders)
    write_atomically(file, b"new")
    monkeypatch.undo()
    assert only(file) == b"new"


def test_no_folder_is_an_os_error(tmp_path: Path) -> None:
    """The caller says what to do."""
    with pytest.raises(FileNotFoundError):
        write_atomically(tmp_path / "none" / "file", b"new")


def test_what_killed_writes_left_is_swept(file: Path) -> None:
    """Old leftovers of this very file go with the next write; a write under way elsewhere and all else stay."""
    old, young, other = (file.parent / name for name in (".file.json.a1b2c3d4.part", ".file.json.e5f6.part", ".file.json.txt"))
    for path in (old, young, other):
        path.write_bytes(b"half")
    for path in (old, other):
        os.utime(path, (0, 0))
    write_atomically(file, b"new")
    assert sorted(p.name for p in file.parent.iterdir()) == sorted([file.name, young.name, other.name])
