"""Results, reports and cases as files, in a folder or wherever fsspec reaches.

A file appears whole or not at all: it is written under a temporary name, brought to the disk, then moved. Its size and
checksum are made while it is written, and belong in the store beside its name.

OutputError
├── NoRoom            the disk is full, or a quota is reached
├── FilesUnavailable  the folder or the place behind the URL cannot be reached or written
├── FileMissing       there is no such file
└── FileDamaged       a file is not what was written
"""

from __future__ import annotations

import errno
import hashlib
import os
import re
import shutil
import uuid
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import fsspec  # type: ignore[import-untyped]  # it ships no annotations
from fsspec.implementations.local import LocalFileSystem  # type: ignore[import-untyped]  # the same

from leadline.errors import OutputError

__all__ = [
    "FileDamaged",
    "FileFacts",
    "FileMissing",
    "FileWriter",
    "Files",
    "FilesUnavailable",
    "NoRoom",
    "open_files",
    "run_folder",
]

CHUNK = 1 << 20
STEP = re.compile(r"[A-Za-z0-9_-][A-Za-z0-9._-]*")
FULL = {errno.ENOSPC, errno.EDQUOT, errno.EFBIG}


class NoRoom(OutputError):
    """The disk is full, or a quota is reached; the file is not there."""


class FilesUnavailable(OutputError):
    """The folder, or the place behind the URL, cannot be reached or written."""


class FileMissing(OutputError):
    """There is no such file."""


class FileDamaged(OutputError):
    """A file is not what was written."""


@dataclass(frozen=True, slots=True)
class FileFacts:
    """What a file is known by: bytes, and SHA-256 in hexadecimal."""

    size: int
    sha256: str


class FileWriter:
    """A file being written.

    Parameters
    ----------
    file
        Where the bytes go.
    name
        What it is called, for messages.
    """

    def __init__(self, file: Any, name: str) -> None:
        self._file, self._name = file, name
        self._digest = hashlib.sha256()
        self._size = 0

    def write(self, data: bytes) -> int:
        """Write some bytes, and return how many; raise as `Files.writing`."""
        with _named_failures(self._name):
            self._file.write(data)
        self._digest.update(data)
        self._size += len(data)
        return len(data)

    @property
    def facts(self) -> FileFacts:
        """What was written so far."""
        return FileFacts(self._size, self._digest.hexdigest())


class Files:
    """Files under one root, named by relative paths such as ``runs/run_0.../3/result.json``.

    Parameters
    ----------
    system
        An fsspec file system.
    root
        Where in it.
    """

    def __init__(self, system: Any, root: str) -> None:
        self._system, self._root = system, root.rstrip("/")
        self._local = isinstance(system, LocalFileSystem)

    @contextmanager
    def writing(self, name: str) -> Iterator[FileWriter]:
        """Give something to write to; the file is there once the block has ended well.

        Raises
        ------
        NoRoom
            The disk is full.
        FilesUnavailable
            It cannot be written for another reason.
        """
        path = self._path(name)
        folder, _, last = path.rpartition("/")
        temporary = f"{folder}/.{last}.{uuid.uuid4().hex[:12]}"
        try:
            with _named_failures(name):
                self._system.makedirs(folder, exist_ok=True)
                file = self._system.open(temporary, "wb")
            with _closed_if_broken_off(file):
                yield FileWriter(file, name)
            with _named_failures(name):
                self._to_disk(file)
                self._system.mv(temporary, path)
                self._name_to_disk(folder)
        finally:
            with suppress(OSError):
                if self._system.exists(temporary):
                    self._system.rm(temporary)

    def write(self, name: str, data: bytes | Iterable[bytes]) -> FileFacts:
        """Write a file from bytes or pieces of them; see `writing`."""
        pieces = (data,) if isinstance(data, bytes) else data
        with self.writing(name) as writer:
            for piece in pieces:
                writer.write(piece)
        return writer.facts

    def take(self, name: str, source: Path) -> FileFacts:
        """Write a file from one on this machine; see `writing`.

        Raises
        ------
        FileMissing
            There is no such source.
        """
        with _named_failures(str(source)), source.open("rb") as file:
            return self.write(name, iter(lambda: file.read(CHUNK), b""))

    def read(self, name: str, start: int = 0, stop: int | None = None) -> Iterator[bytes]:
        """Yield a file's bytes from `start` up to but not with `stop`, in pieces of at most a megabyte.

        The file is opened at once, so that one that is missing is told before an answer begins.

        Raises
        ------
        FileMissing
            There is no such file.
        FilesUnavailable
            It cannot be read.
        """
        with _named_failures(name):
            file = self._system.open(self._path(name), "rb")
        return _pieces(file, name, start, stop)

    def facts(self, name: str) -> FileFacts:
        """Read a whole file for its size and checksum; raise as `read`."""
        digest, size = hashlib.sha256(), 0
        for piece in self.read(name):
            digest.update(piece)
            size += len(piece)
        return FileFacts(size, digest.hexdigest())

    def check(self, name: str, facts: FileFacts) -> None:
        """Compare a file with what was written.

        Raises
        ------
        FileDamaged
            It differs.
        FileMissing
            It is not there.
        """
        found = self.facts(name)
        if found != facts:
            what = f"{found.size} bytes instead of {facts.size}" if found.size != facts.size else "checksums differ"
            raise FileDamaged(f"the file {name} is not what was written: {what}")

    def size(self, name: str) -> int:
        """Return how many bytes a file has; raise as `read`."""
        with _named_failures(name):
            return int(self._system.info(self._path(name))["size"])

    def exists(self, name: str) -> bool:
        """Tell whether there is such a file."""
        with _named_failures(name):
            return bool(self._system.isfile(self._path(name)))

    def delete(self, prefix: str) -> None:
        """Remove a file, or a folder with all that is in it; nothing if it is not there.

        Raises
        ------
        FilesUnavailable
            It cannot be removed.
        """
        path = self._path(prefix)
        with _named_failures(prefix), suppress(FileNotFoundError):
            self._system.rm(path, recursive=True)

    def free_bytes(self) -> int | None:
        """Return how much room is left; None where that cannot be known."""
        if not self._local:
            return None
        with _named_failures(self._root):
            return shutil.disk_usage(self._root).free

    def ping(self) -> None:
        """Write and remove a small file; raise as `writing`."""
        name = f"ping-{uuid.uuid4().hex}"
        self.write(name, b"leadline")
        self.delete(name)

    def _path(self, name: str) -> str:
        """Return where a file is.

        Raises
        ------
        ValueError
            The name would lead out of the root, or to a temporary file.
        """
        if not all(STEP.fullmatch(step) for step in name.split("/")):
            raise ValueError(
                f"{name!r} is no name of a file here: steps of A-Z a-z 0-9 . _ -, none starting with a dot"
            )
        return f"{self._root}/{name}"

    def _to_disk(self, file: Any) -> None:
        """Close a file, its bytes brought to the disk, so that a power cut leaves no empty one under the final name."""
        with file:
            if self._local:
                file.flush()
                os.fsync(file.fileno())

    def _name_to_disk(self, folder: str) -> None:
        if self._local:
            descriptor = os.open(folder, os.O_RDONLY)
            try:
                os.fsync(descriptor)
            finally:
                os.close(descriptor)


def open_files(place: str, **settings: Any) -> Files:
    """Open a folder, or a place behind an fsspec URL.

    Parameters
    ----------
    place
        A path, made when it is not there, or a URL such as ``s3://bucket/leadline``.
    settings
        What fsspec wants to know about the place; credentials come from its own configuration.

    Raises
    ------
    FilesUnavailable
        It cannot be opened.
    """
    try:
        with _named_failures(place):
            # Listings must not be cached: other processes write here too.
            system, root = fsspec.url_to_fs(place, use_listings_cache=False, **settings)
            system.makedirs(root, exist_ok=True)
    except (ValueError, ImportError) as error:
        raise FilesUnavailable(f"files cannot be kept in {place}: {error}") from error
    return Files(system, root)


def run_folder(run_id: str, fence: int | None = None) -> str:
    """Return where a run's files are; each lease writes to a folder of its own, so none overwrites another's."""
    return f"runs/{run_id}" if fence is None else f"runs/{run_id}/{fence}"


def _pieces(file: Any, name: str, start: int, stop: int | None) -> Iterator[bytes]:
    with _named_failures(name), file:
        file.seek(start)
        left = None if stop is None else stop - start
        while left is None or left > 0:
            piece = file.read(CHUNK if left is None else min(CHUNK, left))
            if not piece:
                return
            left = None if left is None else left - len(piece)
            yield piece


@contextmanager
def _closed_if_broken_off(file: Any) -> Iterator[None]:
    try:
        yield
    except BaseException:
        with suppress(OSError):  # closing writes what is left, which may fail as well
            file.close()
        raise


@contextmanager
def _named_failures(name: str) -> Iterator[None]:
    try:
        yield
    except FileNotFoundError as error:
        raise FileMissing(f"there is no file {name}") from error
    except OSError as error:
        said = error.strerror or str(error)
        if error.errno in FULL:
            raise NoRoom(f"there is no room for {name}: {said}") from error
        raise FilesUnavailable(f"{name} cannot be written or read: {said}") from error
