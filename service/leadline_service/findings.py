"""What a run found, read back from its files as documents."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import Any

from pydantic import TypeAdapter

from leadline.run.answer_files import Answers
from leadline.run.answers import DriversResult, RareResult, SizingResult, SweepResult
from leadline.run.result import CompareResult, Result
from leadline_service.files import Files
from leadline_service.identifiers import digest_of
from leadline_service.serving import Service
from leadline_service.store.records import FileRecord, RunRecord

__all__ = ["Findings", "findings_of", "tag_of"]

Findings = Answers | CompareResult
KINDS: TypeAdapter[Any] = TypeAdapter(Result | CompareResult | DriversResult | RareResult | SizingResult | SweepResult)
"""Every document has a kind of its own, so one reader does for all."""


def findings_of(service: Service, run: RunRecord) -> Findings | None:
    """Return all that a run found; None where there is nothing."""
    files = _documents(service.store.files(run.run_id))
    return None if not files else _read(_Reader(service.files), tuple(files))


def tag_of(service: Service, run: RunRecord) -> str:
    """Return an entity tag of what a run found."""
    return f'"{digest_of([file.sha256 for file in _documents(service.store.files(run.run_id))])}"'


def _documents(files: Sequence[FileRecord]) -> list[FileRecord]:
    return [file for file in files if file.name.endswith(".json") and "/" not in file.name]


class _Reader:
    """Reads files of the service; all readers are alike, so that what was read is known by its files alone."""

    def __init__(self, files: Files) -> None:
        self.files = files

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Reader) and other.files is self.files

    def __hash__(self) -> int:
        return id(self.files)

    def bytes_of(self, file: FileRecord) -> bytes:
        """Return a file's bytes."""
        return b"".join(self.files.read(file.path, 0, file.size))


@lru_cache(maxsize=16)
def _read(reader: _Reader, files: tuple[FileRecord, ...]) -> Findings | None:
    documents = [KINDS.validate_json(reader.bytes_of(file)) for file in files]
    compared = next((each for each in documents if isinstance(each, CompareResult)), None)
    return compared if compared is not None else Answers.of(*documents)
