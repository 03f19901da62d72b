"""What a server can be asked, and how it is written on the wire."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Protocol, TypedDict

__all__ = [
    "Answer",
    "CompareFields",
    "Drivers",
    "Rare",
    "RunFields",
    "Sizing",
    "Span",
    "StudyLike",
    "Sweep",
    "TrialFields",
    "as_sent",
    "content_id",
    "is_content_id",
    "text_of",
]


class StudyLike(Protocol):
    """A study that was loaded here."""

    def resolved(self) -> dict[str, Any]:
        """Write the study with everything that was left unsaid."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Drivers:
    """What drives the risk, and what each change buys; see `leadline.run.drivers.Extent`."""

    pairs: int = 16_384
    cases: int = 100_000
    shapley: bool = False

    kind = "drivers"


@dataclass(frozen=True, slots=True, kw_only=True)
class Rare:
    """How likely failures are that are too rare to be counted; see `leadline.run.rare.RareRequest`."""

    variation: float = 0.1
    most_cases: int = 10_000_000

    kind = "rare"


@dataclass(frozen=True, slots=True, kw_only=True)
class Sizing:
    """The value of one number that gives the wanted chance; see `leadline.run.sizing.SizingRequest`."""

    place: str
    low: str | None = None
    high: str | None = None
    chance: float | None = None
    confidence: float | None = None
    prefer: str = "smallest"
    cases: int = 100_000

    kind = "sizing"


@dataclass(frozen=True, slots=True)
class Span:
    """A number's place, the ends of its range with their units, and how many values are tried."""

    place: str
    low: str
    high: str
    steps: int = 11


@dataclass(frozen=True, slots=True, kw_only=True)
class Sweep:
    """The chance over one or two numbers; see `leadline.run.sweep.SweepRequest`."""

    ranges: Sequence[Span]
    chance: float | None = None
    confidence: float | None = None
    cases: int = 20_000

    kind = "sweep"


Answer = Drivers | Rare | Sizing | Sweep
"""One further answer that is wanted besides the chance."""


class TrialFields(TypedDict, total=False):
    """What a trial is asked by, besides the study.

    Parameters
    ----------
    option
        The option of the study to take.
    set
        Values replaced, by their places, after the option was taken.
    cases, seed, design
        How many of which draws.
    answers
        What is wanted besides the chance.
    """

    option: str | None
    set: Mapping[str, Any]
    cases: int
    seed: int
    design: str
    answers: Sequence[Answer]


class CompareFields(TypedDict, total=False):
    """What a comparison that is waited for is asked by, besides the study and its options; as in `TrialFields`."""

    set: Mapping[str, Any]
    cases: int
    seed: int
    design: str


class RunFields(TypedDict, total=False):
    """What a run is asked by, besides the study; as a trial, and more.

    Parameters
    ----------
    option, set, seed, design, answers
        As in `TrialFields`.
    cases
        How many; 100 000 when None, or up to 100 million with `until`.
    until
        Half-width of the chance's interval at which to stop.
    compare
        Options to fly beside the base study on the same draws.
    keep_cases
        Whether every case is written to Parquet files.
    """

    option: str | None
    set: Mapping[str, Any]
    cases: int | None
    seed: int
    design: str
    answers: Sequence[Answer]
    until: float | None
    compare: Sequence[str] | None
    keep_cases: bool


def as_sent(fields: Mapping[str, Any]) -> dict[str, Any]:
    """Return what is asked as JSON has it, what was left unsaid left out."""
    said = {name: value for name, value in fields.items() if value is not None}
    if "answers" in said:
        said["answers"] = [_answer(answer) for answer in said["answers"]]
    for name in {"compare", "options"} & said.keys():
        said[name] = list(said[name])
    if "set" in said:
        said["set"] = dict(said["set"])
    return said


def _answer(answer: Answer) -> dict[str, Any]:
    return {"kind": answer.kind, **_fields(answer)}


def _fields(record: Answer | Span) -> dict[str, Any]:
    values = {name: getattr(record, name) for name in record.__dataclass_fields__}
    if isinstance(record, Sweep):
        values["ranges"] = [_fields(span) for span in record.ranges]
    return {name: value for name, value in values.items() if value is not None}


def text_of(study: StudyLike | str) -> str:
    """Return the text that is sent for a study: as it was written, or in full where it was loaded here.

    In full it is one alternative, with its option taken and its values replaced; its options are not sent along.
    """
    return study if isinstance(study, str) else json.dumps(study.resolved(), ensure_ascii=False, allow_nan=False)


def is_content_id(study: StudyLike | str) -> bool:
    """Tell whether a text names a stored study; no study's text can."""
    return isinstance(study, str) and re.fullmatch(r"[0-9a-f]{64}", study) is not None


def content_id(text: str) -> str:
    """Return the name of a text: SHA-256 of its UTF-8 bytes."""
    return hashlib.sha256(text.encode()).hexdigest()
