"""Talks about what a run left: its result, further answers, report and cases."""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import Any, Final, TypeVar

from leadline.client.errors import RunFailed
from leadline.client.talk import Call, Reply, Talk, ask
from leadline.client.talks import Talks
from leadline.client.wire import FileInfo, FileList, Run
from leadline.errors import OutputError, RunError
from leadline.run.document import Document
from leadline.run.result import CompareResult, Result
from leadline.run.whole_file import whole_file

__all__ = ["Outcome"]

Kind = TypeVar("Kind", bound=Document)

PIECE_BYTES: Final = 8 * 2**20
"""Files are fetched piece by piece, so that memory stays flat and a lost connection loses little."""
EVERY_S: Final = 1.0


class Outcome:
    """Makes talks about one run's outcome; each waits until the run has ended.

    Parameters
    ----------
    talks
        Talks with the server.
    run_id
        Which run.
    """

    def __init__(self, talks: Talks, run_id: str) -> None:
        self.talks, self.run_id = talks, run_id

    def result(self, timeout_s: float | None) -> Talk[Result]:
        """Fetch the result."""
        yield from self._ended("result", timeout_s)
        return (yield from self.talks.read(Result, Call("GET", f"/v1/runs/{self.run_id}/result")))

    def comparison(self, timeout_s: float | None) -> Talk[CompareResult]:
        """Fetch the comparison."""
        yield from self._ended("comparison", timeout_s)
        return (yield from self.talks.read(CompareResult, Call("GET", f"/v1/runs/{self.run_id}/result")))

    def answer(self, kind: type[Kind], word: str, number: int, timeout_s: float | None) -> Talk[Kind]:
        """Fetch a further answer: of all of a kind, the one of this number, counted from 1."""
        said = yield from self._ended("result", timeout_s)
        found: list[dict[str, Any]] = [each for each in said["answers"] if each["kind"] == word]
        if not 1 <= number <= len(found):
            raise RunError(f"the run {self.run_id} was asked for {len(found)} answers of kind {word}")
        chosen = found[number - 1]
        if chosen["failure"]:
            raise RunFailed(self.run_id, chosen["failure"]["code"], chosen["failure"]["message"])
        return (yield from self.talks.read(kind, Call("GET", self._file(chosen["file"]))))

    def files(self) -> Talk[FileList]:
        """List the files there are."""
        return self.talks.read(FileList, Call("GET", f"/v1/runs/{self.run_id}/files"))

    def report(self, path: Path, timeout_s: float | None) -> Talk[Path]:
        """Write the report into a file."""
        yield from self._ended(None, timeout_s)
        found = yield from self._found("report.html")
        if not found:
            raise RunError(f"the run {self.run_id} has no report; its server cannot draw")
        yield from self._saved(found[0], path)
        return path

    def cases(self, folder: Path, timeout_s: float | None) -> Talk[tuple[Path, ...]]:
        """Write the files with every case into a folder."""
        yield from self._ended("result", timeout_s)
        found = yield from self._found("cases/")
        if not found:
            raise RunError(f"the run {self.run_id} has no files with its cases; they are kept where a run asks for it")
        paths = tuple(folder / info.name.rpartition("/")[2] for info in found)
        for info, path in zip(found, paths, strict=True):
            yield from self._saved(info, path)
        return paths

    def _ended(self, kind: str | None, timeout_s: float | None) -> Talk[dict[str, Any]]:
        """Wait for the end, and return what is said of the outcome, which must be of a kind where one is named."""
        run = yield from self.talks.wait(self.run_id, timeout_s, None, EVERY_S)
        said = _outcome(run)
        if kind is not None and said["kind"] != kind:
            raise RunError(f"the outcome of the run {self.run_id} is a {said['kind']}, no {kind}")
        return said

    def _found(self, prefix: str) -> Talk[list[FileInfo]]:
        listed = yield from self.files()
        return sorted((each for each in listed.items if each.name.startswith(prefix)), key=lambda each: each.name)

    def _saved(self, info: FileInfo, path: Path) -> Talk[None]:
        """Write a file of the run, whole or not at all.

        Raises
        ------
        OutputError
            It cannot be written, or what came is not what the server has.
        """
        digest = hashlib.sha256()
        _make_folder(path.parent)
        with whole_file(path) as temporary, temporary.open("wb") as file:
            for start in range(0, info.size, PIECE_BYTES):
                piece = yield from self._piece(info, start, min(start + PIECE_BYTES, info.size))
                digest.update(piece)
                file.write(piece)
            if digest.hexdigest() != info.sha256:
                raise OutputError(f"{info.name} of the run {self.run_id} came with other bytes than the server has")

    def _piece(self, info: FileInfo, start: int, stop: int) -> Talk[bytes]:
        headers = {"range": f"bytes={start}-{stop - 1}", "if-range": f'"{info.sha256}"'}
        reply: Reply = yield from ask(self.talks.patience, Call("GET", self._file(info.name), headers=headers))
        if len(reply.content) != stop - start:
            raise OutputError(f"{info.name} of the run {self.run_id} has changed meanwhile; ask again")
        return reply.content

    def _file(self, name: str) -> str:
        return f"/v1/runs/{self.run_id}/files/{name}"


def _outcome(run: Run) -> dict[str, Any]:
    """Return what is said of an ended run's outcome.

    Raises
    ------
    RunFailed
        It failed.
    RunError
        It was cancelled before there was anything.
    """
    if run.failure is not None:
        raise RunFailed(run.run_id, run.failure.code, run.failure.message)
    if run.outcome is None:
        raise RunError(f"the run {run.run_id} was stopped before the first block of cases was finished")
    return run.outcome


def _make_folder(path: Path) -> None:
    try:
        path.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise OutputError(f"the folder {path} cannot be made: {error.strerror or error}") from error
