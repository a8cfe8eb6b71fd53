"""Writing a file: all of the new one or all of the old one, in the mode that it should have; and being alone in a folder."""

from __future__ import annotations

import errno
import os
import stat
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from nopost import files
from nopost.files import LOCK, locked, write_atomically


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


@pytest.fixture(params=[0o022, 0o002, 0o077], ids=oct)
def umask(request: pytest.FixtureRequest) -> Iterator[int]:
    """Files for everyone to read, for the group to write, and for oneself alone."""
    before = os.umask(request.param)
    yield request.param
    os.umask(before)


@pytest.mark.skipif(os.name != "posix", reason="modes are POSIX's")
def test_a_new_file_gets_what_the_umask_leaves(tmp_path: Path, umask: int) -> None:
    """As any file that a program makes: POSIX, open(), O_CREAT."""
    write_atomically(tmp_path / "ours", b"")
    (tmp_path / "plain").write_bytes(b"")
    modes = {name: stat.S_IMODE((tmp_path / name).stat().st_mode) for name in ("ours", "plain")}
    assert modes == dict.fromkeys(modes, 0o666 & ~umask)


@pytest.mark.skipif(os.name != "posix", reason="modes are POSIX's")
@pytest.mark.parametrize("mode", [0o600, 0o664, 0o644])
def test_an_old_file_keeps_its_mode(file: Path, umask: int, mode: int) -> None:
    """Who opened it to others or closed it meant that."""
    file.chmod(mode)
    write_atomically(file, b"new")
    assert (only(file), stat.S_IMODE(file.stat().st_mode)) == (b"new", mode)


ANOTHER = """
import sys, time
from pathlib import Path
from nopost.files import locked
with locked(Path(sys.argv[1])):
    print("in", flush=True)
    sys.stdin.readline()
    Path(sys.argv[1], "done").touch()
"""


def test_one_waits_for_the_other(tmp_path: Path) -> None:
    """Another program is in the folder: ours comes in once it has left, and not before."""
    command = [sys.executable, "-c", ANOTHER, str(tmp_path)]
    paths = os.pathsep.join(sys.path)
    with subprocess.Popen(
        command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, env={**os.environ, "PYTHONPATH": paths}, text=True
    ) as other:
        assert other.stdin is not None
        assert other.stdout is not None
        assert other.stdout.readline() == "in\n"
        other.stdin.write("\n")
        other.stdin.flush()
        with locked(tmp_path):
            assert (tmp_path / "done").exists()


def test_a_lock_that_is_never_given_back_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Rather than waiting for ever."""
    monkeypatch.setattr(files, "LONGEST_WAIT", 0.05)
    with locked(tmp_path), pytest.raises(OSError, match="another nopost has been writing there for too long"), locked(tmp_path):
        pass


@pytest.mark.skipif(os.name != "posix", reason="modes are POSIX's")
def test_everyone_who_may_write_may_lock(tmp_path: Path, umask: int) -> None:
    """Also another user of a shared folder, whatever the umask of the first one."""
    with locked(tmp_path):
        assert stat.S_IMODE((tmp_path / LOCK).stat().st_mode) == 0o666


def test_where_nothing_can_be_locked_it_goes_on(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A file system without locks is no reason to keep nothing."""
    import filelock

    def none(*_: object, **__: object) -> None:
        raise NotImplementedError

    monkeypatch.setattr(filelock.FileLock, "acquire", none)
    entered = False
    with locked(tmp_path):
        entered = True
    assert entered


def test_what_is_unfinished_in_a_locked_folder_is_swept(file: Path) -> None:
    """Nobody else writes there now, so that even what is young is left over."""
    (file.parent / ".file.json.e5f6.part").write_bytes(b"half")
    write_atomically(file, b"new", alone=True)
    assert only(file) == b"new"


def test_what_killed_writes_left_is_swept(file: Path) -> None:
    """Old leftovers of this very file go with the next write; a write under way elsewhere and all else stay."""
    old, young, other = (file.parent / name for name in (".file.json.a1b2c3d4.part", ".file.json.e5f6.part", ".file.json.txt"))
    for path in (old, young, other):
        path.write_bytes(b"half")
    for path in (old, other):
        os.utime(path, (0, 0))
    write_atomically(file, b"new")
    assert sorted(p.name for p in file.parent.iterdir()) == sorted([file.name, young.name, other.name])
