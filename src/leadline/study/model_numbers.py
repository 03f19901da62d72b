"""Numbers of a study: fixed, or dispersed by a law; marks for pydantic fields.

A `Quantity` marks a field with its dimension and its physical bounds. pydantic asks it to
read what the study says, to write it back in SI, and to describe it in the JSON Schema.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler, ValidationInfo
from pydantic_core import CoreSchema, core_schema

from leadline.errors import Issue
from leadline.study.bounds import ANY, Bounds
from leadline.study.data_files import DataFolder
from leadline.study.dispersion import Dispersion, read_dispersion, written
from leadline.study.law_shapes import LAW_KEYS
from leadline.study.places import Tree
from leadline.study.pydantic_errors import refusal
from leadline.study.suggest import meant
from leadline.units import Dimension, QuantityError, parse_quantity

__all__ = ["LiquidValues", "PerLiquid", "Quantity", "Value", "median", "plain_schema", "under"]

Value = float | Dispersion
"""A number of a study in SI, fixed or dispersed."""


def median(value: Value) -> float:
    """Return the middle of a number: itself, or its law's median."""
    return value.law.median if isinstance(value, Dispersion) else value


@dataclass(frozen=True, slots=True)
class Quantity:
    """Marks a field as a number of a dimension, within bounds.

    Parameters
    ----------
    dimension
        Which units it may have.
    bounds
        Which values are possible.
    fixed
        Whether it must be one value, without a law.
    """

    dimension: Dimension
    bounds: Bounds = ANY
    fixed: bool = False

    def read(self, given: object, info: ValidationInfo) -> Value:
        """Read what a study says.

        Raises
        ------
        pydantic.ValidationError
            With every issue found.
        """
        made = self.made(given, info)
        if isinstance(made, list):
            raise refusal(made)
        return made

    def made(self, given: Any, info: ValidationInfo) -> Value | list[Issue]:
        """Make the number, or say everything that is wrong with it."""
        if isinstance(given, dict) and not self.fixed:
            folder = info.context if isinstance(info.context, DataFolder) else DataFolder(None)
            return read_dispersion(given, self.dimension, self.bounds, folder)
        if isinstance(given, bool) or not isinstance(given, str | int | float):
            return [self._no_number(given)]
        try:
            value = parse_quantity(given, self.dimension)
        except QuantityError as error:
            return [Issue((), error.message, error.remedy, error.code)]
        return value if self.bounds.admit(value) else [self._impossible(given)]

    def write(self, value: Value | None) -> Tree:
        """Write a number in SI, so that reading it gives the same number again."""
        if value is None:
            return None
        return value.write(self.dimension.si) if isinstance(value, Dispersion) else written(value, self.dimension.si)

    def _no_number(self, given: object) -> Issue:
        law = "" if self.fixed else ", or a law such as {low: ..., likely: ..., high: ...}"
        message = f"A {self.dimension.name} is wanted, and {_KINDS.get(type(given), 'something else')} stands here."
        return Issue((), message, f"Write {self.dimension.wanted}{law}.", "not-a-number")

    def _impossible(self, given: object) -> Issue:
        words = self.bounds.words(self.dimension.si)
        message = f'"{given}" is not possible here: it must be {words}.'
        return Issue((), message, f"Write a {self.dimension.name} {words}.", "out-of-bounds")

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return plain_schema(self.read, self.write)

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        return {
            "x-quantity": self.dimension.name,
            "x-fixed": self.fixed,
            "x-bounds": self.bounds.words(self.dimension.si),
        }


_KINDS: Final = {type(None): "nothing", bool: "true or false", list: "a list", dict: "a law"}


def plain_schema(read: Any, write: Any) -> CoreSchema:
    """Return the schema of a marked field that reads and writes itself."""
    serialise = core_schema.plain_serializer_function_ser_schema(write)
    return core_schema.with_info_plain_validator_function(read, serialization=serialise)


@dataclass(frozen=True, slots=True)
class LiquidValues:
    """A number for each liquid of a tank; None where it is not given."""

    oxidiser: Value | None = None
    fuel: Value | None = None


_LIQUIDS: Final = ("oxidiser", "fuel")


@dataclass(frozen=True, slots=True)
class PerLiquid:
    """Marks a field as one number for each liquid, or a bare one for a monopropellant."""

    quantity: Quantity

    def read(self, given: object, info: ValidationInfo) -> Value | LiquidValues:
        """Read what a study says.

        Raises
        ------
        pydantic.ValidationError
            With every issue found.
        """
        if not isinstance(given, dict) or LAW_KEYS & given.keys() or not given:
            return self.quantity.read(given, info)
        made = {key: self.quantity.made(given[key], info) for key in _LIQUIDS if key in given}
        issues = [_unknown_liquid(key) for key in given if key not in _LIQUIDS]
        for key, value in made.items():
            if isinstance(value, list):
                issues += under(key, value)
        if issues:
            raise refusal(issues)
        return LiquidValues(**{key: value for key, value in made.items() if not isinstance(value, list)})

    def write(self, value: Value | LiquidValues | None) -> Tree:
        """Write the numbers in SI."""
        if not isinstance(value, LiquidValues):
            return self.quantity.write(value)
        pairs = (("oxidiser", value.oxidiser), ("fuel", value.fuel))
        return {key: self.quantity.write(inner) for key, inner in pairs if inner is not None}

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return plain_schema(self.read, self.write)

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        return {"x-per-liquid": self.quantity.__get_pydantic_json_schema__(schema, handler)}


def under(key: str, issues: list[Issue]) -> list[Issue]:
    """Put issues under the key of the value that holds them."""
    return [Issue((key, *issue.path), issue.message, issue.remedy, issue.code) for issue in issues]


def _unknown_liquid(key: str) -> Issue:
    message = f'A tank has no liquid "{key[:60]}".'
    return Issue((key,), message, meant(key, _LIQUIDS, "Liquids"), "unknown-key")
