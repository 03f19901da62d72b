"""All answers to one study, and the files they are kept in beside the result of a run."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from hashlib import blake2b
from pathlib import Path
from typing import Final, Literal, TypeVar

from pydantic import ValidationError

from leadline.errors import OutputError
from leadline.run.answers import DriversResult, RareResult, SizingResult, SweepResult
from leadline.run.document import Document, StudyLabel
from leadline.run.result import Result

__all__ = ["ANSWER_FILES", "RESULT", "Answer", "Answers", "answer_file", "read_answers"]

Answer = DriversResult | SizingResult | SweepResult | RareResult
"""What a study can be asked besides its result."""

Read = TypeVar("Read", Result, DriversResult, SizingResult, SweepResult, RareResult)

RESULT: Final = "result.json"
DRIVERS, RARE = "drivers.json", "rare.json"
SIZINGS, SWEEPS = "sizing-*.json", "sweep-*.json"
ANSWER_FILES: Final = (DRIVERS, SIZINGS, SWEEPS, RARE)
"""Patterns of every file an answer is kept in."""

LONGEST_NAME: Final = 80


class Answers(Document):
    """Everything at hand about one study: its result, where it was run, and the further answers.

    As a document it is what ``run --rare --json`` prints. `sentence` is the one to quote.
    """

    leadline: Literal[1] = 1
    kind: Literal["answers"] = "answers"
    result: Result | None = None
    drivers: DriversResult | None = None
    sizings: tuple[SizingResult, ...] = ()
    sweeps: tuple[SweepResult, ...] = ()
    rare: RareResult | None = None

    @classmethod
    def of(cls, *documents: Result | Answer) -> Answers:
        """Put documents about one study together; of two results, drivers or rare failures the last is kept.

        Raises
        ------
        ValueError
            They are about different studies.
        """
        if len({each.study.digest for each in documents}) > 1:
            raise ValueError("the answers are about different studies")
        return cls(
            result=_last(documents, Result),
            drivers=_last(documents, DriversResult),
            sizings=tuple(each for each in documents if isinstance(each, SizingResult)),
            sweeps=tuple(each for each in documents if isinstance(each, SweepResult)),
            rare=_last(documents, RareResult),
        )

    @property
    def every(self) -> tuple[Result | Answer, ...]:
        """Every document there is, the result first."""
        documents = (self.result, self.drivers, *self.sizings, *self.sweeps, self.rare)
        return tuple(each for each in documents if each is not None)

    @property
    def study(self) -> StudyLabel:
        """Which study they are about.

        Raises
        ------
        ValueError
            There is no document.
        """
        if not self.every:
            raise ValueError("there are no answers")
        return self.every[0].study

    @property
    def sentence(self) -> str:
        """The sentence to quote, of the first document; errors as `study`."""
        if not self.every:
            raise ValueError("there are no answers")
        return self.every[0].sentence


def _last(documents: Sequence[Document], kind: type[Read]) -> Read | None:
    return next((each for each in reversed(documents) if isinstance(each, kind)), None)


def answer_file(answer: Answer) -> str:
    """Return the name of the file an answer is kept in: the same question has the same name."""
    match answer:
        case DriversResult():
            return DRIVERS
        case RareResult():
            return RARE
        case SizingResult():
            return SIZINGS.replace("*", _as_name(answer.number.place))
        case SweepResult():
            return SWEEPS.replace("*", _as_name(" by ".join(axis.number.place for axis in answer.axes)))


def _as_name(text: str) -> str:
    """Write places as part of a file's name; where that loses something, a few letters keep names apart."""
    name = re.sub(r"[^A-Za-z0-9._]+", "-", text)[:LONGEST_NAME]
    plain = name.replace("-", " ") == text
    return name if plain else f"{name}-{blake2b(text.encode(), digest_size=4).hexdigest()}"


def read_answers(folder: Path, digest: str) -> Answers:
    """Read every document about one study that a folder holds.

    Parameters
    ----------
    folder
        A run's folder.
    digest
        The study's digest; documents of other studies are left out.

    Raises
    ------
    OutputError
        A document cannot be read.
    """
    return Answers.of(
        *_read(folder, RESULT, Result, digest),
        *_read(folder, DRIVERS, DriversResult, digest),
        *_read(folder, SIZINGS, SizingResult, digest),
        *_read(folder, SWEEPS, SweepResult, digest),
        *_read(folder, RARE, RareResult, digest),
    )


def _read(folder: Path, pattern: str, kind: type[Read], digest: str) -> Iterator[Read]:
    for path in sorted(folder.glob(pattern)):
        try:
            read = kind.from_json(path.read_bytes())
        except OSError as error:
            raise OutputError(f"{path} cannot be read: {error.strerror or error}") from error
        except ValidationError as error:
            raise OutputError(f"{path} is no document this version can read; remove it and ask again") from error
        if read.study.digest == digest:
            yield read
