"""Heat that reaches the liquids of a tank: one number, or one for each liquid, environment or both."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler, ValidationInfo
from pydantic_core import CoreSchema

from leadline.errors import Issue
from leadline.study.law_shapes import LAW_KEYS
from leadline.study.model_numbers import Quantity, Value, plain_schema, under
from leadline.study.places import Tree
from leadline.study.pydantic_errors import refusal
from leadline.study.suggest import closest, meant, shortened
from leadline.vehicle import Environment, Role

__all__ = ["EnvironmentValues", "Heat", "LiquidHeats", "PerEnvironment", "PerLiquidHeat"]

_ENVIRONMENTS: Final = tuple(environment.value for environment in Environment)
_ROLES: Final = tuple(role.value for role in Role)


@dataclass(frozen=True, slots=True)
class EnvironmentValues:
    """A number for each environment named."""

    values: tuple[tuple[Environment, Value], ...]


Heat = Value | EnvironmentValues
"""A number that holds everywhere, or one for each environment."""


@dataclass(frozen=True, slots=True)
class LiquidHeats:
    """Heat for each liquid of a tank; None where it is not given."""

    oxidiser: Heat | None = None
    fuel: Heat | None = None


@dataclass(frozen=True, slots=True)
class PerEnvironment:
    """Marks a field as one number, or one for each environment."""

    quantity: Quantity

    def read(self, given: object, info: ValidationInfo) -> Heat:
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

    def made(self, given: object, info: ValidationInfo) -> Heat | list[Issue]:
        """Make the numbers, or say everything that is wrong with them."""
        if not isinstance(given, dict) or not given or LAW_KEYS & given.keys():
            return self.quantity.made(given, info)
        issues = [_unknown(key, _ENVIRONMENTS, "No environment is called") for key in given if key not in _ENVIRONMENTS]
        made = {key: self.quantity.made(given[key], info) for key in _ENVIRONMENTS if key in given}
        issues += [inside for key, value in made.items() if isinstance(value, list) for inside in under(key, value)]
        sound = tuple((Environment(key), value) for key, value in made.items() if not isinstance(value, list))
        return issues or EnvironmentValues(sound)

    def write(self, heat: Heat | None) -> Tree:
        """Write the numbers in SI."""
        if not isinstance(heat, EnvironmentValues):
            return self.quantity.write(heat)
        return {environment.value: self.quantity.write(value) for environment, value in heat.values}

    def schema(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        """Describe it for the JSON Schema."""
        number = self.quantity.__get_pydantic_json_schema__(schema, handler)
        places = {
            "description": "One for each environment.",
            "type": "object",
            "properties": {name: dict(number) for name in _ENVIRONMENTS},
            "additionalProperties": False,
        }
        return {"anyOf": [number, places]}

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return plain_schema(self.read, self.write)

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        return self.schema(schema, handler)


@dataclass(frozen=True, slots=True)
class PerLiquidHeat:
    """Marks a field as heat for each liquid, or for a monopropellant by itself."""

    heat: PerEnvironment

    def read(self, given: object, info: ValidationInfo) -> Heat | LiquidHeats:
        """Read what a study says.

        Raises
        ------
        pydantic.ValidationError
            With every issue found.
        """
        if not isinstance(given, dict) or not given or LAW_KEYS & given.keys() or _by_environment(given):
            return self.heat.read(given, info)
        issues = [_unknown(key, _ROLES, "A tank has no liquid") for key in given if key not in _ROLES]
        made = {key: self.heat.made(given[key], info) for key in _ROLES if key in given}
        issues += [inside for key, value in made.items() if isinstance(value, list) for inside in under(key, value)]
        if issues:
            raise refusal(issues)
        return LiquidHeats(**{key: value for key, value in made.items() if not isinstance(value, list)})

    def write(self, heat: Heat | LiquidHeats | None) -> Tree:
        """Write the numbers in SI."""
        if not isinstance(heat, LiquidHeats):
            return self.heat.write(heat)
        pairs = (("oxidiser", heat.oxidiser), ("fuel", heat.fuel))
        return {key: self.heat.write(inner) for key, inner in pairs if inner is not None}

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return plain_schema(self.read, self.write)

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        return {"x-per-liquid": self.heat.schema(schema, handler)}


def _by_environment(given: Mapping[str, object]) -> bool:
    """Whether the keys are those of environments, rightly or nearly written."""
    if any(key in _ROLES for key in given):
        return False
    return any(closest(str(key), _ENVIRONMENTS) is not None for key in given)


def _unknown(key: str, known: tuple[str, ...], opening: str) -> Issue:
    what = "Liquids" if known is _ROLES else "Environments"
    return Issue((key,), f'{opening} "{shortened(key)}".', meant(key, known, what), "unknown-key")
