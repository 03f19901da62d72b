"""What every kind of requirement has in common."""

from __future__ import annotations

from abc import abstractmethod
from typing import Annotated, ClassVar, Final

from pydantic import BeforeValidator, Field, WithJsonSchema

from leadline import vehicle
from leadline.study import limits
from leadline.study.numbers import Numbers
from leadline.study.record import Record, Reference, field
from leadline.study.walk import Walk

__all__ = ["AfterRecord", "RequirementRecord", "Several", "refuse_twins"]


def _as_list(given: object) -> object:
    return [given] if isinstance(given, str) else given


_AFTER: Final = field("The leg after which it must hold; the end of the mission if left out.", "return", default=None)


Several = Annotated[
    tuple[Reference, ...],
    BeforeValidator(_as_list),
    Field(min_length=1, max_length=limits.LEGS),
    WithJsonSchema({"anyOf": [{"type": "string"}, {"type": "array", "items": {"type": "string"}, "minItems": 1}]}),
]


class RequirementRecord(Record):
    """A bound that must hold."""

    KIND: ClassVar[str]

    @abstractmethod
    def check(self, walk: Walk) -> None:
        """Check what the requirement refers to."""

    @abstractmethod
    def bind(self, name: str, numbers: Numbers) -> vehicle.Requirement:
        """Make the requirement that is judged."""


class AfterRecord(RequirementRecord):
    """A bound that must hold after a leg."""

    after: Reference | None = _AFTER

    def check(self, walk: Walk) -> None:
        """Check that the leg exists."""
        if self.after is not None:
            walk.leg("after", self.after)


def refuse_twins(names: tuple[str, ...], step: str, walk: Walk) -> None:
    """Note names that are given twice."""
    twins = sorted({name for name in names if names.count(name) > 1})
    if twins:
        walk.refuse(step, "twice", f"{', '.join(twins)} is named twice.", "Name each once.")
