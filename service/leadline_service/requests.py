"""What a run is asked for: the one model that the wire, the store and the dispatcher share."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Annotated, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, JsonValue, model_validator

from leadline.risk.sizing import Prefer
from leadline.run.drivers import DEFAULT_PAIRS, Extent
from leadline.run.engine import DEFAULT_CASES, MOST_CASES, Request
from leadline.run.provenance import stream_of
from leadline.run.rare import RareRequest
from leadline.run.sizing import SizingRequest
from leadline.run.sweep import SweepRange, SweepRequest
from leadline.run.work import Work
from leadline.sampling import Design
from leadline.study import Study, loads
from leadline_service.identifiers import canonical_json, digest_of

__all__ = [
    "Answer",
    "DriversAnswer",
    "RareAnswer",
    "RunRequest",
    "SizingAnswer",
    "SweepAnswer",
    "SweepSpan",
]

CasesCount = Annotated[int, Field(ge=1, le=10**13)]
AnswerCases = Annotated[int, Field(ge=1, le=10**8)]
Share = Annotated[float, Field(gt=0, lt=1, allow_inf_nan=False)]
PlaceText = Annotated[str, Field(min_length=1, max_length=500)]
ValueText = Annotated[str, Field(min_length=1, max_length=100)]
OptionName = Annotated[str, Field(min_length=1, max_length=200)]
MOST_SET = 200
MOST_ANSWERS = 20


class Asked(BaseModel):
    """A frozen piece of a request that refuses unknown keys and numbers that are not finite."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


class DriversAnswer(Asked):
    """What drives the risk, and what each change buys.

    Parameters
    ----------
    pairs
        Pairs of cases behind the indices.
    cases
        Cases behind what each change buys.
    shapley
        Whether Shapley effects are wanted as well.
    """

    kind: Literal["drivers"] = "drivers"
    pairs: Annotated[int, Field(ge=1, le=10**7)] = DEFAULT_PAIRS
    cases: AnswerCases = DEFAULT_CASES
    shapley: bool = False

    def extent(self, seed: int) -> Extent:
        """Return the question as `leadline.run.drivers` takes it."""
        return Extent(self.pairs, self.cases, seed, self.shapley)


class RareAnswer(Asked):
    """How likely failures are that are too rare to be counted.

    Parameters
    ----------
    variation
        Coefficient of variation to reach.
    most_cases
        Cases allowed for each requirement and for the whole.
    """

    kind: Literal["rare"] = "rare"
    variation: Share = 0.1
    most_cases: AnswerCases = 10_000_000

    def question(self, seed: int) -> RareRequest:
        """Return the question as `leadline.run.rare` takes it."""
        return RareRequest(self.variation, self.most_cases, seed)


class SizingAnswer(Asked):
    """The value of one number that gives the wanted chance.

    Parameters
    ----------
    place
        Where the number stands in the study.
    low, high
        The range looked at, each with its unit; None for half and one and a half times the nominal.
    chance, confidence
        What is wanted; None for what the study asks for.
    prefer
        Whether the smallest or the largest value that gives it is the answer.
    cases
        Cases flown for each value tried.
    """

    kind: Literal["sizing"] = "sizing"
    place: PlaceText
    low: ValueText | None = None
    high: ValueText | None = None
    chance: Share | None = None
    confidence: Share | None = None
    prefer: Prefer = Prefer.SMALLEST
    cases: Annotated[int, Field(ge=1, le=10**7)] = DEFAULT_CASES

    def question(self, seed: int) -> SizingRequest:
        """Return the question as `leadline.run.sizing` takes it."""
        return SizingRequest(
            self.place, self.low, self.high, self.chance, self.confidence, self.prefer, cases=self.cases, seed=seed
        )


class SweepSpan(Asked):
    """A number's place, the ends of its range with their units, and how many values are tried."""

    place: PlaceText
    low: ValueText
    high: ValueText
    steps: Annotated[int, Field(ge=2, le=2_500)] = 11


class SweepAnswer(Asked):
    """The chance over one or two numbers.

    Parameters
    ----------
    ranges
        Which numbers, over which ranges.
    chance, confidence
        What is wanted; None for what the study asks for.
    cases
        Cases flown for each combination of values.
    """

    kind: Literal["sweep"] = "sweep"
    ranges: Annotated[tuple[SweepSpan, ...], Field(min_length=1, max_length=2)]
    chance: Share | None = None
    confidence: Share | None = None
    cases: Annotated[int, Field(ge=1, le=10**7)] = 20_000

    def question(self, seed: int) -> SweepRequest:
        """Return the question as `leadline.run.sweep` takes it."""
        ranges = tuple(SweepRange(each.place, each.low, each.high, each.steps) for each in self.ranges)
        return SweepRequest(ranges, self.chance, self.confidence, self.cases, seed)


Answer = Annotated[DriversAnswer | RareAnswer | SizingAnswer | SweepAnswer, Field(discriminator="kind")]
"""One further answer that is wanted besides the chance."""


class RunRequest(Asked):
    """A run as somebody asks for it.

    Parameters
    ----------
    study
        Content id of a stored study.
    option
        The option of it to take; None for the base study.
    set
        Values replaced, by their places, after the option was taken; null takes an entry out.
    compare
        Options to fly beside the base study on the same draws. The outcome is then a comparison, and there is neither
        an option, nor a precision, nor a further answer, nor are cases kept.
    cases
        How many; None for 100 000, or for up to 100 million with `until`.
    until
        Half-width of the chance's interval at which to stop.
    seed, design
        Which draws.
    keep_cases
        Whether every case is written to Parquet files.
    answers
        What is wanted besides the chance.
    """

    study: Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]
    option: OptionName | None = None
    set: Annotated[dict[str, JsonValue], Field(max_length=MOST_SET)] = {}
    compare: Annotated[tuple[OptionName, ...], Field(min_length=1, max_length=50)] | None = None
    cases: CasesCount | None = None
    until: Share | None = None
    seed: Annotated[int, Field(ge=0, le=2**53 - 1)] = 0
    design: Literal["independent", "latin-hypercube", "sobol"] = "independent"
    keep_cases: bool = False
    answers: Annotated[tuple[Answer, ...], Field(max_length=MOST_ANSWERS)] = ()

    @model_validator(mode="after")
    def _values_are_json(self) -> Self:
        canonical_json(self.set)  # a ValueError for NaN and infinities, which JSON has no word for
        return self

    @model_validator(mode="after")
    def _compares_only(self) -> Self:
        beside = ("option", "until", "keep_cases", "answers")
        if self.compare is not None and any(getattr(self, name) for name in beside):
            raise ValueError(f"with compare there can be none of {', '.join(beside)}")
        if self.compare is not None and len(frozenset(self.compare)) < len(self.compare):
            raise ValueError("an option is named twice in compare")
        return self

    @classmethod
    def of(cls, request: Mapping[str, object]) -> Self:
        """Read a request as the store keeps it."""
        return cls.model_validate_json(json.dumps(request))

    @property
    def document(self) -> dict[str, JsonValue]:
        """The request as the store keeps it: everything said, in JSON types."""
        dumped: dict[str, JsonValue] = self.model_dump(mode="json")
        return dumped

    @property
    def most_cases(self) -> int:
        """The most cases the chance is computed from."""
        if self.cases is not None:
            return self.cases
        return DEFAULT_CASES if self.until is None else MOST_CASES

    @property
    def engine_request(self) -> Request:
        """The request as `leadline.run.engine` takes it."""
        return Request(self.cases, self.seed, Design(self.design), self.until)

    def study_of(self, text: str) -> Study:
        """Make the study that is to be flown from the stored text: option taken, then values replaced.

        Raises
        ------
        StudyError
            The study cannot be used so.
        """
        study = loads(text)
        if self.option is not None:
            study = study.with_option(self.option)
        return study.with_values(self.set) if self.set else study

    def identity(self, study: Study) -> str:
        """Return the digest of all that decides the answer; `study` is what `study_of` made.

        Two texts that mean the same have one identity; another build of the numeric libraries has another.
        """
        stream = stream_of(Work.of(study, self.seed, Design(self.design)))
        options = [study.with_option(name).digest for name in self.compare or ()]
        asked = self.model_dump(mode="json", exclude={"study", "option", "set", "cases"})
        label = [study.title, study.option, list(study.notes)]
        return digest_of([stream, label, options, {**asked, "cases": self.most_cases}])
