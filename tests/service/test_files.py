"""Files appear whole or not at all, and are read back as they were written."""

from __future__ import annotations

import errno
import hashlib
import itertools
import os
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from leadline.errors import OutputError
from leadline_service.files import (
    CHUNK,
    FileDamaged,
    FileFacts,
    FileMissing,
    Files,
    FilesUnavailable,
    NoRoom,
    open_files,
    run_folder,
)

COUNT = itertools.count()


@pytest.fixture(params=["folder", "memory"])
def files(request: pytest.FixtureRequest, tmp_path: Path) -> Files:
    """Return an empty place for files: a folder, and one that fsspec reaches by URL."""
    return open_files(str(tmp_path / "files") if request.param == "folder" else f"memory://files-{next(COUNT)}")


def whole(files: Files, name: str) -> bytes:
    """Return a file's bytes."""
    return b"".join(files.read(name))


def below(folder: Path) -> list[str]:
    """Return every file below a folder, hidden ones too."""
    return sorted(str(path.relative_to(folder)) for path in folder.rglob("*") if path.is_file())


def test_a_file_comes_back_with_its_size_and_checksum(files: Files) -> None:
    data = os.urandom(3 * CHUNK + 7)
    facts = files.write("runs/r/1/cases.parquet", iter([data[:5], data[5:]]))
    assert facts == FileFacts(len(data), hashlib.sha256(data).hexdigest())
    assert whole(files, "runs/r/1/cases.parquet") == data
    assert files.size("runs/r/1/cases.parquet") == len(data)
    assert files.facts("runs/r/1/cases.parquet") == facts
    files.check("runs/r/1/cases.parquet", facts)


def test_a_file_is_replaced_at_once(files: Files) -> None:
    files.write("a/b", b"old and long")
    reading = files.read("a/b")
    files.write("a/b", b"new")
    assert whole(files, "a/b") == b"new"
    assert b"".join(reading) in {b"old and long", b"new"}  # whoever reads meanwhile sees one or the other


@given(st.binary(max_size=50), st.integers(0, 60), st.integers(0, 60))
def test_ranges_are_slices(data: bytes, start: int, length: int) -> None:
    files = open_files("memory://ranges")
    files.write("x", data)
    assert b"".join(files.read("x", start, start + length)) == data[start : start + length]
    assert b"".join(files.read("x", start)) == data[start:]


def test_a_file_of_this_machine_is_taken(files: Files, tmp_path: Path) -> None:
    source = tmp_path / "source"
    source.write_bytes(bytes(CHUNK) + b"end")
    assert files.take("a/b", source).size == CHUNK + 3
    assert whole(files, "a/b") == bytes(CHUNK) + b"end"
    with pytest.raises(FileMissing):
        files.take("a/c", tmp_path / "nothing")
    assert not files.exists("a/c")


def test_what_breaks_off_leaves_nothing(files: Files) -> None:
    def pieces() -> Iterator[bytes]:
        yield b"half"
        raise ZeroDivisionError

    files.write("a/b", b"before")
    for name in ("a/b", "a/c"):
        with pytest.raises(ZeroDivisionError):
            files.write(name, pieces())
    assert whole(files, "a/b") == b"before"
    assert not files.exists("a/c")


def test_missing_files_are_named(files: Files) -> None:
    for ask in (files.read, files.size, files.facts):
        with pytest.raises(FileMissing, match="there is no file a/b"):
            ask("a/b")
    assert not files.exists("a/b")
    files.delete("a/b")
    files.delete("a")


def test_a_damaged_file_is_named(files: Files) -> None:
    facts = files.write("a", b"good")
    files.write("a", b"bad!")
    with pytest.raises(FileDamaged, match="checksums differ"):
        files.check("a", facts)
    files.write("a", b"goo")
    with pytest.raises(FileDamaged, match="3 bytes instead of 4"):
        files.check("a", facts)


def test_a_prefix_is_removed_with_all_that_is_in_it(files: Files) -> None:
    for name in ("runs/a/1/x", "runs/a/2/x", "runs/ab/1/x"):
        files.write(name, b"x")
    files.delete(run_folder("a"))
    assert [files.exists(name) for name in ("runs/a/1/x", "runs/a/2/x", "runs/ab/1/x")] == [False, False, True]
    files.delete("runs/ab/1/x")
    assert not files.exists("runs/ab/1/x")


@pytest.mark.parametrize(
    "name", ["", "/etc/passwd", "a//b", "../a", "a/../b", "a/.hidden", "a\\b", "a b", "a/", "ä", "a\0"]
)
def test_names_that_lead_elsewhere_are_refused(files: Files, name: str) -> None:
    for ask in (files.exists, files.read, files.delete, lambda bad: files.write(bad, b"")):
        with pytest.raises(ValueError, match="no name of a file here"):
            ask(name)


def test_each_lease_has_a_folder_of_its_own() -> None:
    assert run_folder("run_0", 3) == "runs/run_0/3"


def test_a_place_says_how_much_room_it_has_and_whether_it_answers(tmp_path: Path) -> None:
    folder = open_files(str(tmp_path / "new" / "files"))
    folder.ping()
    assert below(tmp_path) == []
    assert (folder.free_bytes() or 0) > 0
    assert open_files("memory://room").free_bytes() is None


@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EDQUOT])
@pytest.mark.parametrize("fails_at", ["write", "flush"])
def test_a_disk_that_is_full_at_any_moment_leaves_no_half_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, fails_at: str, number: int
) -> None:
    files = open_files(str(tmp_path))
    files.write("a/b", b"before")
    opened = files._system.open

    def open_on_a_full_disk(*arguments: Any, **settings: Any) -> Any:
        file = opened(*arguments, **settings)

        def fail(*_: Any) -> None:
            raise OSError(number, os.strerror(number))

        monkeypatch.setattr(file, fails_at, fail, raising=False)
        return file

    monkeypatch.setattr(files._system, "open", open_on_a_full_disk)
    for name in ("a/b", "a/c"):
        with pytest.raises(NoRoom, match=f"there is no room for {name}"):
            files.write(name, [b"half", b"more"])
    monkeypatch.undo()
    assert below(tmp_path) == ["a/b"]
    assert whole(files, "a/b") == b"before"


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """Return a file system of 256 kB, where this machine lets a test have one."""
    folder = tmp_path / "small"
    folder.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=256k", "leadline-test", str(folder)]
    if os.geteuid() != 0 or subprocess.run(mount, capture_output=True, check=False).returncode != 0:
        pytest.skip("this user may not mount a small disk; the same is tested with a simulated one")
    yield folder
    subprocess.run([shutil.which("umount") or "umount", str(folder)], check=True)


def test_a_disk_that_is_really_full(small_disk: Path) -> None:
    files = open_files(str(small_disk))
    files.write("a/b", bytes(100_000))
    with pytest.raises(NoRoom):
        files.write("a/c", itertools.repeat(bytes(10_000), 100))
    with pytest.raises(NoRoom):
        files.write("a/b", bytes(1_000_000))
    assert below(small_disk) == ["a/b"]
    assert files.write("a/c", bytes(100_000)).size == 100_000


def test_places_that_cannot_be_opened(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    for place in (str(tmp_path / "file"), str(tmp_path / "file" / "below"), "oddity://bucket/x"):
        with pytest.raises(FilesUnavailable) as caught:
            open_files(place)
        assert isinstance(caught.value, OutputError)


def test_a_folder_that_has_gone_is_named(tmp_path: Path) -> None:
    files = open_files(str(tmp_path / "files"))
    (tmp_path / "files").rmdir()
    (tmp_path / "files").write_text("in the way")
    with pytest.raises(FilesUnavailable):
        files.write("a/b", b"x")
