"""Changes tried on a study, asked for over the wire."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, JsonValue

from leadline.run.engine import Control
from leadline.run.try_changes import Change, Nominal, OptionTaken, Replaced, Spread
from leadline.run.try_result import TryResult
from leadline.run.trying import MOST_CASES, Trying
from leadline.study import Study
from leadline_service.asked import asked_study, flawed_at
from leadline_service.flaws import Flaw
from leadline_service.identifiers import canonical_json, content_id, digest_of
from leadline_service.refusals import Refusal
from leadline_service.requests import Asked, OptionName, PlaceText, ValueText
from leadline_service.schemas import ContentId, StudyText
from leadline_service.serving import Service
from leadline_service.submitting import stored_text

__all__ = ["TryRequest", "tried"]


class NominalChange(Asked):
    """The middle of a law moved to a value with its unit; a fixed number is replaced."""

    kind: Literal["nominal"] = "nominal"
    place: PlaceText
    to: ValueText

    @property
    def change(self) -> Change:
        """The change as `leadline.run.try_changes` takes it."""
        return Nominal(self.place, self.to)


class SpreadChange(Asked):
    """A law made so many times as wide about its middle."""

    kind: Literal["spread"] = "spread"
    place: PlaceText
    times: Annotated[float, Field(ge=0, le=100, allow_inf_nan=False)]

    @property
    def change(self) -> Change:
        """The change as `leadline.run.try_changes` takes it."""
        return Spread(self.place, self.times)


class ValueChange(Asked):
    """Anything replaced; null takes an entry out."""

    kind: Literal["value"] = "value"
    place: PlaceText
    to: JsonValue

    @property
    def change(self) -> Change:
        """The change as `leadline.run.try_changes` takes it."""
        return Replaced(self.place, self.to)


class OptionChange(Asked):
    """An option taken instead of the base study; the first change, and only where `option` is left out."""

    kind: Literal["option"] = "option"
    name: OptionName

    @property
    def change(self) -> Change:
        """The change as `leadline.run.try_changes` takes it."""
        return OptionTaken(self.name)


class TryRequest(Asked):
    """Changes tried on a study, against the study as it is.

    Parameters
    ----------
    study
        Content id of a stored study; or else
    text
        the text of one.
    option, set
        What makes the study that changes are tried on, as in a run.
    changes
        What is tried, in this order; none for the study as it is.
    cases, seed
        How many independent cases, from which draws.
    """

    study: ContentId | None = None
    text: StudyText | None = None
    option: OptionName | None = None
    set: Annotated[dict[str, JsonValue], Field(max_length=200, default_factory=dict)]
    changes: Annotated[
        tuple[Annotated[NominalChange | SpreadChange | ValueChange | OptionChange, Field(discriminator="kind")], ...],
        Field(max_length=200),
    ] = ()
    cases: Annotated[int, Field(ge=1, le=MOST_CASES)] = 100_000
    seed: Annotated[int, Field(ge=0, le=2**53 - 1)] = 0

    def key(self, text_id: str) -> str:
        """Return what the study's draws are kept under."""
        return digest_of([text_id, self.option, canonical_json(self.set), self.cases, self.seed])


def tried(service: Service, request: TryRequest, control: Control) -> TryResult:
    """Try changes in this thread, on draws kept warm.

    Raises
    ------
    Refusal
        The study or a change cannot be used as asked for; 422.
    RunError
        Stopped before it was done.
    """
    text = _text(service, request)

    def make() -> Trying:
        text_at = ("text",) if request.study is None else ("study",)
        study = asked_study(text, request.option, request.set, text_at=text_at)
        _require_room(study, request.cases, service.settings.warm_bytes)
        return Trying(study, request.cases, request.seed, stopped=control.stopped)

    trying = service.warm.get(request.key(content_id(text)), make)
    with flawed_at(("changes",)):
        return trying.change([each.change for each in request.changes], stopped=control.stopped)


def _require_room(study: Study, cases: int, most_bytes: int) -> None:
    """Refuse a study whose draws would fill the memory there is for all."""
    if 2 * 8 * len(study.inputs) * cases > most_bytes:
        most = max(1, most_bytes // (16 * len(study.inputs)))
        detail = f"So many numbers have a law here that at most {most} cases can be tried."
        raise Refusal(422, detail, errors=[Flaw(pointer="#/cases", code="too-large", detail=detail)])


def _text(service: Service, request: TryRequest) -> str:
    if (request.study is None) == (request.text is None):
        raise Refusal(422, errors=[Flaw(pointer="#", code="study", detail="Give either study or text.")])
    return request.text if request.text is not None else stored_text(service, str(request.study))
