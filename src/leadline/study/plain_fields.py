"""Fields that are no quantities: whole numbers, and words of a short list."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler
from pydantic_core import CoreSchema, core_schema

from leadline.study.pydantic_errors import carried
from leadline.study.suggest import meant, shortened

__all__ = ["Whole", "Word"]


@dataclass(frozen=True, slots=True)
class Whole:
    """Marks a field as a whole number; both bounds are possible."""

    low: int
    high: int

    def read(self, given: object) -> int:
        """Read what a study says.

        Raises
        ------
        PydanticCustomError
            If it is no whole number within the bounds.
        """
        remedy = f"Write a whole number from {self.low} to {self.high}."
        if isinstance(given, bool) or not isinstance(given, int):
            raise carried("not-a-number", f'"{shortened(str(given))}" is no whole number.', remedy)
        if not self.low <= given <= self.high:
            raise carried("out-of-bounds", f"{shortened(str(given))} is not possible here.", remedy)
        return given

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.no_info_plain_validator_function(self.read)

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        return {"type": "integer", "minimum": self.low, "maximum": self.high}


@dataclass(frozen=True, slots=True)
class Word:
    """Marks a field as one of a few words; `what` says what they are, in the plural."""

    known: tuple[str, ...]
    what: str

    def read(self, given: object) -> str:
        """Read what a study says.

        Raises
        ------
        PydanticCustomError
            If it is none of the words.
        """
        if given in self.known:
            return str(given)
        message = f'"{shortened(str(given))}" is not known here.'
        raise carried("unknown-word", message, meant(str(given), self.known, self.what))

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.no_info_plain_validator_function(self.read)

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        return {"enum": list(self.known)}
