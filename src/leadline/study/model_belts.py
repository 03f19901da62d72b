"""The radiation belts that a burn's orbits cross, as a study writes them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Any, Final

from pydantic import AfterValidator, GetCoreSchemaHandler, GetJsonSchemaHandler, ValidationInfo
from pydantic_core import CoreSchema, core_schema

from leadline.physics.belts import BOUNDS
from leadline.study.bounds import ABOVE_ZERO
from leadline.study.model_numbers import Quantity
from leadline.study.plain_fields import Word
from leadline.study.pydantic_errors import carried
from leadline.study.record import Record, field
from leadline.units import LENGTH, humanise
from leadline.vehicle import BeltShell

__all__ = ["BELT_NAMES", "Belts", "BeltsRecord", "shells_of"]

BELT_NAMES: Final = ("inner", "outer")

_PUBLISHED: Final = Word(tuple(BOUNDS), "Published bounds")


def _rising(given: tuple[float, float] | None) -> tuple[float, float] | None:
    if given is not None and given[0] >= given[1]:
        low, high = (humanise(altitude, "m") for altitude in given)
        raise carried("upside-down", f"A belt from {low} to {high} has no height.", "Write the lower altitude first.")
    return given


_Altitude = Annotated[float, Quantity(LENGTH, ABOVE_ZERO, fixed=True)]
_Shell = Annotated[tuple[_Altitude, _Altitude] | None, AfterValidator(_rising)]


class BeltsRecord(Record):
    """The belts as shells between two altitudes."""

    inner: _Shell = field("The inner belt, from and to.", "[1000 km, 12000 km]", default=None)
    outer: _Shell = field("The outer belt, from and to.", "[13000 km, 60000 km]", default=None)


@dataclass(frozen=True, slots=True)
class Belts:
    """Marks a field as belts: the name of published bounds, or a mapping with the study's own."""

    def read(self, given: object, info: ValidationInfo) -> BeltsRecord | str:
        """Read what a study says.

        Raises
        ------
        pydantic.ValidationError
            With every issue found.
        """
        if not isinstance(given, dict):
            return _PUBLISHED.read(given)
        made = BeltsRecord.model_validate(given, context=info.context)
        if made.inner is None and made.outer is None:
            remedy = 'Write "belts: encyclopaedia", or "inner: [1000 km, 12000 km]".'
            raise carried("missing-key", "No belt is given.", remedy)
        if made.inner is not None and made.outer is not None and made.outer[0] < made.inner[1]:
            raise carried("overlap", "The outer belt begins inside the inner one.", "Let it begin where that ends.")
        return made

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.with_info_plain_validator_function(self.read, serialization=_WRITTEN)

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        return {"anyOf": [{"enum": list(BOUNDS)}, BeltsRecord.model_json_schema(by_alias=True)]}


def _write(belts: BeltsRecord | str | None) -> Any:
    return belts.model_dump(mode="json", exclude_none=True) if isinstance(belts, BeltsRecord) else belts


_WRITTEN: Final = core_schema.plain_serializer_function_ser_schema(_write)


def shells_of(belts: BeltsRecord | str | None) -> tuple[BeltShell, ...]:
    """Make the shells that are flown through."""
    if belts is None:
        return ()
    if isinstance(belts, str):
        pair = BOUNDS[belts]
        return tuple(BeltShell(one.name, one.lower_altitude_m, one.upper_altitude_m, belts) for one in pair)
    pairs = ((name, getattr(belts, name)) for name in BELT_NAMES)
    return tuple(BeltShell(name, *bounds) for name, bounds in pairs if bounds is not None)
