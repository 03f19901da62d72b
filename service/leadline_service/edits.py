"""Edits of a study's text, asked for one after the other, and what is then read in it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Literal, Self

from pydantic import Field, JsonValue

from leadline.errors import Path, StudyError
from leadline.study import loads
from leadline.study.editing import EditError, add, move, remove, rename, set_value
from leadline.study.places import Place
from leadline.study.reading import read
from leadline_service.flaws import Flaw
from leadline_service.refusals import Refusal, flaws_of_issues, pointer
from leadline_service.requests import Asked
from leadline_service.schemas import StudyText, Wire

__all__ = ["EditRequest", "EditResult", "edited"]

Step = Annotated[str, Field(max_length=10_000)] | Annotated[int, Field(ge=0, le=10**6)]
At = (
    Annotated[str, Field(min_length=1, max_length=2_000)]
    | Annotated[tuple[Step, ...], Field(min_length=1, max_length=32)]
)
"""A place as an option writes it, or every key and position from the top."""
Position = Annotated[int, Field(ge=0, le=10**6)]


class SetEdit(Asked):
    """A value replaced, or written where the last step is not there yet; null is written as null."""

    do: Literal["set"] = "set"
    at: At
    value: JsonValue

    def made(self, text: str) -> str:
        """Return the text with it done."""
        return set_value(text, self.at, self.value)


class RemoveEdit(Asked):
    """An entry taken out."""

    do: Literal["remove"] = "remove"
    at: At

    def made(self, text: str) -> str:
        """Return the text with it done."""
        return remove(text, self.at)


class AddEdit(Asked):
    """A value put into the list at a place, before a position or at the end."""

    do: Literal["add"] = "add"
    at: At
    value: JsonValue
    before: Position | None = None

    def made(self, text: str) -> str:
        """Return the text with it done."""
        return add(text, self.at, self.value, self.before)


class MoveEdit(Asked):
    """An item of a list given another position."""

    do: Literal["move"] = "move"
    at: At
    to: Position

    def made(self, text: str) -> str:
        """Return the text with it done."""
        return move(text, self.at, self.to)


class RenameEdit(Asked):
    """An entry given another key."""

    do: Literal["rename"] = "rename"
    at: At
    to: Annotated[str, Field(min_length=1, max_length=1_000)]

    def made(self, text: str) -> str:
        """Return the text with it done."""
        return rename(text, self.at, self.to)


Edit = Annotated[SetEdit | RemoveEdit | AddEdit | MoveEdit | RenameEdit, Field(discriminator="do")]


class EditRequest(Asked):
    """A study's text, and what is to be done to it in turn; with no edits it is only read."""

    text: StudyText
    edits: Annotated[tuple[Edit, ...], Field(max_length=100)] = ()


class EditResult(Wire):
    """A text with its edits made, and what is read in it.

    `tree` is null where it cannot be read at all; `places` are the line and column of each value by its JSON pointer;
    `issues` are what is wrong with the study.
    """

    text: str
    tree: dict[str, JsonValue] | None
    places: dict[str, tuple[int, int]]
    title: str | None
    options: tuple[str, ...]
    issues: tuple[Flaw, ...]

    @classmethod
    def of(cls, text: str) -> Self:
        """Read a text."""
        try:
            reading = read(text)
        except StudyError as error:
            return cls(text=text, tree=None, places={}, title=None, options=(), issues=flaws_of_issues(error.issues))
        tree = reading.tree
        title, options = tree.get("title"), tree.get("options")
        return cls(
            text=text,
            tree=tree,
            places=dict(_places(reading.root, ())),
            title=title if isinstance(title, str) else None,
            options=tuple(options) if isinstance(options, dict) else (),
            issues=_issues(text),
        )


def edited(request: EditRequest) -> EditResult:
    """Make the edits of a request, one after the other.

    Raises
    ------
    Refusal
        One cannot be made; 422, with a pointer to it.
    """
    text = request.text
    for position, edit in enumerate(request.edits):
        try:
            text = edit.made(text)
        except (EditError, StudyError) as error:
            flaw = Flaw(pointer=pointer(("edits", position)), code="edit", detail=_said(error))
            raise Refusal(422, "The text cannot be edited as asked for.", errors=[flaw]) from error
    return EditResult.of(text)


def _said(error: EditError | StudyError) -> str:
    return (
        " ".join(f"{each.message} {each.remedy}" for each in error.issues)
        if isinstance(error, StudyError)
        else str(error)
    )


def _issues(text: str) -> tuple[Flaw, ...]:
    try:
        loads(text)
    except StudyError as error:
        return flaws_of_issues(error.issues)
    return ()


def _places(place: Place, path: Path) -> Iterator[tuple[str, tuple[int, int]]]:
    if path and place.shown is not None:
        yield pointer(path), place.shown
    for step, inside in place.inside.items():
        yield from _places(inside, (*path, step))
