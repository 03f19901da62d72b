"""The study that a request asks for, with what does not fit pointing into the request."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from functools import lru_cache

from pydantic import JsonValue

from leadline.errors import Path, StudyError
from leadline.study import Study, loads
from leadline_service.identifiers import canonical_json
from leadline_service.refusals import Refusal, flaws_of_issues, pointer

__all__ = ["asked_study", "flawed_at", "known_options"]


def asked_study(text: str, option: str | None, values: Mapping[str, JsonValue], *, text_at: Path = ("study",)) -> Study:
    """Load a study, take an option of it, then replace values.

    Parameters
    ----------
    text
        The study.
    option, values
        What is taken and replaced; they stand under ``option`` and ``set`` in the request.
    text_at
        Where in the request the text stands.

    Raises
    ------
    Refusal
        Something does not fit; 422.
    """
    return _asked(text, option, canonical_json(values), text_at)


@lru_cache(maxsize=16)  # studies never change; somebody who tries values, or asks for many runs, sends the same again
def _asked(text: str, option: str | None, values_json: str, text_at: Path) -> Study:
    with flawed_at(text_at):
        study = loads(text)
    if option is not None:
        with flawed_at(("option",), whole=True):
            study = study.with_option(option)
    values: dict[str, JsonValue] = json.loads(values_json)
    if values:
        with flawed_at(("set",)):
            study = study.with_values(values)
    return study


def known_options(study: Study, names: tuple[str, ...]) -> None:
    """Refuse a list of options, under ``compare``, that holds one the study has not, or cannot be flown."""
    for position, name in enumerate(names):
        with flawed_at(("compare", position), whole=True):
            study.with_option(name)


@contextmanager
def flawed_at(place: Path, *, whole: bool = False) -> Iterator[None]:
    """Let a study's issues be told as flaws at a place of the request.

    Parameters
    ----------
    place
        Where.
    whole
        Whether the place itself is meant by all of them, as the issues' own paths lie in the stored study.

    Raises
    ------
    Refusal
        In place of a `StudyError`.
    """
    try:
        yield
    except StudyError as error:
        flaws = flaws_of_issues(error.issues, place)
        if whole:
            flaws = tuple(flaw.model_copy(update={"pointer": pointer(place)}) for flaw in flaws)
        raise Refusal(422, "The study cannot be used as asked for.", errors=flaws) from error
