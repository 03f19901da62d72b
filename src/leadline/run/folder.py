"""The folder of a run: the study as given and resolved, the result, the report, what to go on from.

A folder holds one run: one resolved study, seed and design. Taken up again with more cases it goes
on where it stood; another run is refused unless told to replace what is there. Further answers to
the same study stand beside the result, and the report is made of all of them. Every file is
written under a temporary name and renamed, so a reader never sees half of one.
"""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from typing import Any

from leadline.errors import OutputError
from leadline.run.answer_files import ANSWER_FILES, RESULT, Answer, Answers, answer_file, read_answers
from leadline.run.blocks import Spans
from leadline.run.engine import Kept
from leadline.run.parts import part_name
from leadline.run.result import Result
from leadline.run.summary import BlockSummary
from leadline.run.whole_file import whole_file

__all__ = ["OutFolder", "ReportWriter", "RunLabel"]

ReportWriter = Callable[[Answers, Path], None]
"""Writes the report of all answers at hand to a path."""

LABEL, RESOLVED = "run.json", "resolved.json"
REPORT, KEPT, CASES = "report.html", "kept.bin", "cases"
STUDY_NAMES = ("study.yaml", "study.json")
KEPT_HEAD = b"leadline kept blocks 1\n"


@dataclass(frozen=True, slots=True)
class RunLabel:
    """What makes two runs the same one, but for the number of cases."""

    title: str
    digest: str
    option: str | None
    seed: int
    design: str

    def to_json(self) -> str:
        """Return the label as the text of ``run.json``."""
        fields = {
            "leadline": 1,
            "kind": "run",
            "title": self.title,
            "digest": self.digest,
            "option": self.option,
            "seed": self.seed,
            "design": self.design,
        }
        return json.dumps(fields, indent=2) + "\n"

    @property
    def same_as(self) -> tuple[str, int, str]:
        """What is compared."""
        return self.digest, self.seed, self.design


class OutFolder:
    """A run's folder, opened for writing.

    Parameters
    ----------
    path
        The folder; made when it is not there.
    label
        The run to be written.
    replace
        Whether another run's files may be removed.
    beside
        Whether only further answers are written, which may stand beside any run of the same study.

    Raises
    ------
    OutputError
        The folder holds another run and `replace` is not set, or holds files that are not a
        run's, or cannot be written.
    """

    def __init__(self, path: Path, label: RunLabel, *, replace: bool = False, beside: bool = False) -> None:
        self.path = path
        self._digest = label.digest
        self._opened_with: Kept | None = None
        found = _found_label(path)
        fits = found is not None and self._fits(found, label, beside=beside)
        if found is not None and not fits:
            if not replace:
                raise OutputError(_another(path, found))
            self._clear()
        _make(path)
        if not (fits and beside):
            self._write(LABEL, label.to_json())

    def _fits(self, found: RunLabel, label: RunLabel, *, beside: bool) -> bool:
        """Tell whether what is to be written may stand with what is there; without a run, any seed and design may."""
        run_there = any((self.path / name).exists() for name in (RESULT, KEPT))
        by_study = beside or not run_there
        return found.digest == label.digest if by_study else found.same_as == label.same_as

    @property
    def cases(self) -> Path:
        """Where parts with every case are put."""
        return self.path / CASES

    @property
    def report(self) -> Path:
        """Where the report is put."""
        return self.path / REPORT

    @property
    def result(self) -> Path:
        """Where the result is put."""
        return self.path / RESULT

    def put_study(self, source_text: str, resolved: dict[str, Any]) -> None:
        """Write the study as it was given, if it was a text, and as it was resolved."""
        if source_text:
            name = STUDY_NAMES[source_text.lstrip().startswith("{")]
            self._write(name, source_text)
        self._write(RESOLVED, json.dumps(resolved, indent=2, allow_nan=False) + "\n")

    def put_result(self, result: Result, write_report: ReportWriter | None) -> None:
        """Write the result, and the report of all answers where there is a writer."""
        self._write(RESULT, result.to_json())
        self._put_report(write_report)

    def put_answer(self, answer: Answer, write_report: ReportWriter | None) -> Path:
        """Write a further answer, and the report of all answers where there is a writer; return where it is."""
        name = answer_file(answer)
        self._write(name, answer.to_json())
        self._put_report(write_report)
        return self.path / name

    def answers(self) -> Answers:
        """Return every answer the folder holds."""
        return read_answers(self.path, self._digest)

    def _put_report(self, write_report: ReportWriter | None) -> None:
        if write_report is not None:
            with whole_file(self.report) as temporary:
                write_report(self.answers(), temporary)

    def save(self, kept: Kept) -> None:
        """Write what a later run can start from, unless what is there already is more."""
        if kept.summary is None or kept.summary.cases < self._cases_kept(kept.stream):
            return
        head = json.dumps({"stream": kept.stream, "spans": kept.spans}).encode()
        body = head + b"\n" + kept.summary.to_bytes()
        digest = sha256(body).hexdigest().encode()
        with whole_file(self.path / KEPT) as temporary:
            temporary.write_bytes(KEPT_HEAD + digest + b"\n" + body)

    def kept(self) -> Kept | None:
        """Return what an earlier run kept here; None where there is nothing whole."""
        try:
            data = (self.path / KEPT).read_bytes()
        except FileNotFoundError:
            return None
        except OSError as error:
            raise OutputError(f"{self.path / KEPT} cannot be read: {error.strerror}") from error
        return _parse_kept(data)

    def _cases_kept(self, stream: str) -> int:
        """Give how many cases of a stream the folder held when it was opened."""
        if self._opened_with is None:
            self._opened_with = self.kept() or Kept("", (), None)
        held = self._opened_with
        return held.summary.cases if held.summary is not None and held.stream == stream else 0

    def start_from(self, *, with_cases: bool) -> Kept | None:
        """Return what a run can start from; with cases, only if every part is there as well."""
        kept = self.kept()
        if kept is None or not with_cases:
            return kept
        blocks = (block for low, high in kept.spans for block in range(low, high))
        return kept if all((self.cases / part_name(block)).exists() for block in blocks) else None

    def keep_parts(self, spans: Spans) -> None:
        """Remove parts of blocks that are not in the run, left by a longer one."""
        wanted = {part_name(block) for low, high in spans for block in range(low, high)}
        for part in self.cases.glob("*.parquet"):
            if part.name not in wanted:
                part.unlink(missing_ok=True)

    def forget_cases(self) -> None:
        """Remove the parts of an earlier run."""
        shutil.rmtree(self.cases, ignore_errors=True)

    def _write(self, name: str, text: str) -> None:
        with whole_file(self.path / name) as temporary:
            temporary.write_text(text, encoding="utf-8")

    def _clear(self) -> None:
        for name in (LABEL, RESOLVED, RESULT, REPORT, KEPT, *STUDY_NAMES):
            (self.path / name).unlink(missing_ok=True)
        for path in (found for pattern in ANSWER_FILES for found in self.path.glob(pattern)):
            path.unlink(missing_ok=True)
        self.forget_cases()


def _make(path: Path) -> None:
    try:
        path.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise OutputError(f"the folder {path} cannot be made: {error.strerror}") from error


def _found_label(path: Path) -> RunLabel | None:
    """Read the label of the run in a folder; None for no folder or an empty one."""
    if path.exists() and not path.is_dir():
        raise OutputError(f"{path} is a file; name a folder")
    if not path.is_dir() or not any(path.iterdir()):
        return None
    try:
        fields = json.loads((path / LABEL).read_text(encoding="utf-8"))
        names = ("title", "digest", "option", "seed", "design")
        return RunLabel(*(fields[name] for name in names))
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise OutputError(
            f"the folder {path} holds files that are not a run's; name an empty or a new folder"
        ) from error


def _another(path: Path, found: RunLabel) -> str:
    option = "" if found.option is None else f", option {found.option!r}"
    return (
        f"the folder {path} holds another run ({found.title!r}{option}, seed {found.seed},"
        f" {found.design}, study {found.digest[:12]}); name another folder, or add --replace"
    )


def _parse_kept(data: bytes) -> Kept | None:
    digest, _, body = data.removeprefix(KEPT_HEAD).partition(b"\n")
    if not data.startswith(KEPT_HEAD) or sha256(body).hexdigest().encode() != digest:
        return None
    head, _, summary = body.partition(b"\n")
    fields = json.loads(head)
    spans = tuple((int(low), int(high)) for low, high in fields["spans"])
    try:
        return Kept(fields["stream"], spans, BlockSummary.from_bytes(summary))
    except OutputError:  # written by another version
        return None
