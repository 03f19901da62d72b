"""What pydantic found wrong, in our own sentences and at the study's own places."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import UnionType
from typing import Any, Final, Union, get_args, get_origin

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo

from leadline.errors import Issue, Path
from leadline.study.model_costs import COST_KINDS
from leadline.study.model_legs import LEG_KINDS
from leadline.study.model_requirements import REQUIREMENT_KINDS
from leadline.study.record import Record
from leadline.study.suggest import closest, listed, meant, shortened

__all__ = ["issues_of"]

_KINDS: Final[Mapping[str, Mapping[str, type[Record]]]] = {"legs": LEG_KINDS, "requirements": REQUIREMENT_KINDS}


def issues_of(error: ValidationError, root: type[Record]) -> list[Issue]:
    """Turn everything pydantic found into issues.

    Parameters
    ----------
    error
        What validating a whole document raised.
    root
        The model of the document.

    Returns
    -------
    list of Issue
        With paths in the study, without lines.
    """
    found = [_Found(root, each) for each in error.errors(include_url=False)]
    return [_SENTENCES.get(each.type, _other)(each) for each in found if not each.echo]


class _Found:
    """One error of pydantic's, with what its place in the document means."""

    def __init__(self, root: type[Record], found: Mapping[str, Any]) -> None:
        self.root = root
        self.type: str = found["type"]
        self.context: Mapping[str, Any] = found.get("ctx", {})
        self.given: object = found["input"]
        self.location: Path = tuple(step for step in found["loc"] if step != "[key]")

    @property
    def echo(self) -> bool:
        """Whether it only counts the items that could be read, where enough are written."""
        return (
            self.type == "too_short"
            and isinstance(self.given, list | dict)
            and len(self.given) >= self.context["min_length"]
        )

    @property
    def path(self) -> Path:
        """The path in the study, without the kind that pydantic puts behind a leg or requirement."""
        tagged = len(self.location) > 2 and self.location[0] in _KINDS
        return self.location[:2] + self.location[3:] if tagged else self.location

    @property
    def key(self) -> str:
        """The key, or the position in a list, that the error is about."""
        return str(self.location[-1]) if self.location else "the study"

    @property
    def known(self) -> dict[str, FieldInfo]:
        """Every key that may stand beside this one, where they are fixed."""
        here: Any = self.root
        for depth, step in enumerate(self.location[:-1]):
            here = _inside(here, step, self.location[:depth])
        return _fields(here)

    @property
    def above(self) -> _Found:
        """The same error, as one of the list or mapping that holds its place."""
        return _Found(self.root, {"type": self.type, "loc": self.location[:-1], "input": self.given})

    @property
    def example(self) -> str | None:
        """What the key may hold, with the key itself."""
        info = self.known.get(self.key)
        return None if info is None or not info.examples else f"{self.key}: {info.examples[0]}"


def _fields(here: Any) -> dict[str, FieldInfo]:
    if not (isinstance(here, type) and issubclass(here, BaseModel)):
        return {}
    return {info.alias or name: info for name, info in here.model_fields.items()}


def _inside(here: Any, step: str | int, before: Path) -> Any:
    """Go one step down from a model or an annotation to what stands there."""
    if len(before) == 2 and before[0] in _KINDS:
        return _KINDS[str(before[0])].get(str(step))
    if step in COST_KINDS and before[-1:] == ("cost",):
        return COST_KINDS[str(step)]
    if isinstance(here, type) and issubclass(here, BaseModel):
        info = _fields(here).get(str(step))
        here = None if info is None else info.annotation
    elif get_args(here):
        here = get_args(here)[-1 if get_origin(here) is dict else 0]
    if get_origin(here) in {UnionType, Union}:
        here = next((part for part in get_args(here) if part is not type(None)), here)
    return here


def _ours(found: _Found) -> Issue:
    return Issue(found.path, found.context["message"], found.context["remedy"], found.context["code"])


def _missing(found: _Found) -> Issue:
    if isinstance(found.location[-1], int):
        return _too_short(found.above)
    message = f'"{found.key}" is missing.'
    return Issue(found.path[:-1], message, f'Write "{found.example or found.key}".', "missing-key")


def _too_short(found: _Found) -> Issue:
    message = f'More entries are wanted in "{shortened(found.key)}".'
    return Issue(found.path, message, f'Write "{found.example or found.key}".', "too-few")


def _unknown(found: _Found) -> Issue:
    if found.key == "<<":
        return Issue(found.path, "Merge keys are not read.", "Write the values out.", "unknown-key")
    message = f'"{shortened(found.key)}" is no key here.'
    return Issue(found.path, message, meant(found.key, found.known, "Keys"), "unknown-key")


def _kindless(found: _Found) -> Issue:
    part = str(found.location[0])
    kinds, what = _KINDS[part], part.removesuffix("s")
    if not isinstance(found.given, dict):
        message = f"A {what} is a mapping, and {_kind_of(found.given)} stands here."
        return Issue(found.path, message, f"Begin it with its kind. Kinds: {listed(kinds)}.", "not-a-mapping")
    near = next((near for key in found.given if (near := closest(str(key), kinds)) is not None), None)
    question = "" if near is None else f'Did you mean "{near}"? '
    message = f"No key of this {what} tells its kind."
    return Issue(found.path, message, f"{question}Kinds: {listed(kinds)}.", "no-kind")


def _not_a(what: str, code: str) -> Callable[[_Found], Issue]:
    def issue(found: _Found) -> Issue:
        message = f"{what.capitalize()} is wanted, and {_kind_of(found.given)} stands here."
        remedy = f'Write "{found.example}".' if found.example else f"Write {what}."
        if what == "a text" and isinstance(found.given, int | float):
            remedy = f'Put it in quotes: "{str(found.given)[:40]}".'
        return Issue(found.path, message, remedy, code)

    return issue


def _kind_of(given: object) -> str:
    kinds: dict[type, str] = {dict: "a mapping", list: "a list", str: "a text", bool: "true or false"}
    return "nothing" if given is None else kinds.get(type(given), "a number")


def _too_many(found: _Found) -> Issue:
    most = found.context["max_length"]
    message = f'There are more than {most} in "{shortened(found.key)}".'
    return Issue(found.path, message, f"Keep it within {most}.", "too-large")


def _too_few(found: _Found) -> Issue:
    least = found.context["min_length"]
    message = f'At least {least} is needed in "{shortened(found.key)}".'
    return Issue(found.path, message, f'Write "{found.example or found.key}".', "too-few")


def _version(found: _Found) -> Issue:
    message = f"This is version {shortened(str(found.given))} of the document, and version 1 is read here."
    return Issue(found.path, message, 'Write "leadline: 1".', "version")


def _other(found: _Found) -> Issue:
    message = f'"{shortened(found.key)}" is not what is wanted here.'
    return Issue(found.path, message, f'Write something like "{found.example or found.key}".', "value")


_SENTENCES: Final[Mapping[str, Callable[[_Found], Issue]]] = {
    "leadline": _ours,
    "missing": _missing,
    "extra_forbidden": _unknown,
    "union_tag_not_found": _kindless,
    "string_type": _not_a("a text", "not-a-text"),
    "dict_type": _not_a("a mapping", "not-a-mapping"),
    "model_type": _not_a("a mapping", "not-a-mapping"),
    "tuple_type": _not_a("a list", "not-a-list"),
    "too_long": _too_many,
    "too_short": _too_few,
    "literal_error": _version,
}
