"""What a leg costs, where it follows from geometry instead of being given.

A cost is a mapping with one key that names its kind. A new kind is one more class in
`COST_KINDS`.
"""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from types import MappingProxyType
from typing import Annotated, Any, ClassVar, Final, Literal

from pydantic import AfterValidator, GetCoreSchemaHandler, GetJsonSchemaHandler, ValidationInfo, create_model
from pydantic_core import CoreSchema

from leadline.constants import MOON_MEAN_DISTANCE_M
from leadline.physics import moon
from leadline.physics.lunar_transfer import ARRIVAL_MODEL_SD_M_S, DEPARTURE_MODEL_SD_M_S
from leadline.sampling import Normal, Uniform
from leadline.study.bounds import Bounds
from leadline.study.burn_orbit import BurnOrbit
from leadline.study.dispersion import Dispersion
from leadline.study.model_numbers import Quantity, Value, median, plain_schema
from leadline.study.numbers import Flight, Numbers
from leadline.study.places import Tree
from leadline.study.pydantic_errors import carried
from leadline.study.record import Record, field
from leadline.study.walk import Walk
from leadline.units import ANGLE, LENGTH, SPEED, TIME
from leadline.vehicle import Formula, Number

__all__ = ["COST_KINDS", "Cost", "CostRecord"]

_EARTH_ORBIT: Final = Bounds(150e3, 2_000e3)
_ABOVE_GROUND: Final = Bounds(low=10e3)
_FLIGHT_TIME: Final = Bounds(60.6 * 3600.0, 171.0 * 3600.0)
"""What the table of flights covers at any distance of the Moon."""

_HOUR_S: Final = 3_600.0
_NO_FLIGHT: Final = Flight(MOON_MEAN_DISTANCE_M, None)
"""What stands in for a flight that is missing, in a study that is refused for it."""


def _error(sd_m_s: float) -> Dispersion:
    return Dispersion("normal", {"mean": 0.0, "sd": sd_m_s}, Normal(0.0, sd_m_s))


def _seconds(date: str) -> float:
    return datetime.fromisoformat(date).replace(tzinfo=UTC).timestamp() - moon.J2000_S


def _date(given: str) -> str:
    remedy = "Write a day such as 2034-03-02, in universal time."
    try:
        year = datetime.fromisoformat(given).year
    except ValueError as error:
        raise carried("date", f'"{given[:40]}" is not a date.', remedy) from error
    if len(given) != len("2034-03-02"):
        raise carried("date", f'"{given[:40]}" is more than a day.', remedy)
    if not moon.EARLIEST <= year <= moon.LATEST:
        message = f"{given} lies outside the ephemeris, which covers {moon.EARLIEST} to {moon.LATEST}."
        raise carried("date", message, "Write a date within it.")
    return given


Date = Annotated[str, AfterValidator(_date)]


def _same(low: Value, high: Value) -> bool:
    """Whether two altitudes are one in every case: two laws are two draws."""
    return isinstance(low, float) and low == high


class CostRecord(Record):
    """A leg cost that follows from geometry; the name of the kind stands over it in the study."""

    KIND: ClassVar[str]

    @property
    def orbit(self) -> BurnOrbit | None:
        """The orbit that the burn leaves or ends in, its other end open; None for another kind of burn."""
        return None

    def check(self, walk: Walk) -> None:
        """Check what only the whole study can tell."""

    @abstractmethod
    def bind(self, numbers: Numbers) -> Number:
        """Make the number that is read for each case, m/s."""


class MoonRecord(CostRecord):
    """A cost that depends on how far the Moon is."""

    distance: Annotated[Value | None, Quantity(LENGTH, Bounds(350_000e3, 410_000e3))] = field(
        "The Moon's distance, where no date is known.", "384400 km", default=None
    )
    on: Date | None = field("The day of the burn at the Moon's end of the flight.", "2034-03-02", default=None)
    between: tuple[Date, Date] | None = field(
        "A window of days, each as likely as another.", "[2034-03-02, 2034-03-29]", default=None
    )
    flight_time: Annotated[Value | None, Quantity(TIME, _FLIGHT_TIME)] = field(
        "Time between Earth orbit and the Moon; the cheapest flight if left out.", "96 h", default=None
    )

    @property
    def stated(self) -> bool:
        """Whether it says itself how far the Moon is."""
        return (self.distance, self.on, self.between) != (None, None, None)

    def check(self, walk: Walk) -> None:
        """Check that the Moon's distance is said once, and that a window ends after it begins."""
        if sum(value is not None for value in (self.distance, self.on, self.between)) > 1:
            message = "The Moon's distance is said more than once."
            walk.refuse(f"cost.{self.KIND}", "twice", message, "Keep one of distance, on and between.")
        if self.between is not None and self.between[0] >= self.between[1]:
            message = f"The window from {self.between[0]} to {self.between[1]} has no length."
            walk.refuse(f"cost.{self.KIND}", "window", message, "Write the earlier day first, or a day under on.")

    def flight(self, numbers: Numbers) -> Flight:
        """Make the flight it belongs to: its own where it says so, else the last one to the Moon."""
        if not self.stated:
            return numbers.flights[-1] if numbers.flights else _NO_FLIGHT
        return Flight(self._moon(numbers), numbers.optional(self.flight_time, "flight_time"))

    def _moon(self, numbers: Numbers) -> Number:
        if self.between is not None:
            ends = (_seconds(self.between[0]), _seconds(self.between[1]))
            return Formula("moon_distance", (numbers.drawn("between", Uniform(0.0, 1.0)), *ends))
        if self.on is not None:
            start = _seconds(self.on)
            return Formula("moon_distance", (0.0, start, start + _HOUR_S))
        return _NO_FLIGHT.distance_m if self.distance is None else numbers.at(self.distance, "distance")


class ToMoonRecord(MoonRecord):
    """Leave a circular Earth orbit for the Moon."""

    KIND = "to_moon"
    from_altitude: Annotated[Value, Quantity(LENGTH, _EARTH_ORBIT)] = field("Altitude of the orbit left.", "420 km")
    model_error: Annotated[Value, Quantity(SPEED)] = field(
        "What the model leaves out, added to the cost.",
        "{mean: 0 m/s, sd: 5 m/s}",
        default=_error(DEPARTURE_MODEL_SD_M_S),
    )

    @property
    def orbit(self) -> BurnOrbit:
        """The Earth orbit left."""
        return BurnOrbit("earth", self.from_altitude, "from_altitude")

    def check(self, walk: Walk) -> None:
        """Check that the Moon's distance is said."""
        super().check(walk)
        if not self.stated:
            message = "Nothing says how far the Moon is."
            walk.refuse("cost.to_moon", "missing-key", message, 'Write "between: [2034-03-02, 2034-03-29]".')

    def bind(self, numbers: Numbers) -> Number:
        """Make the number; the flight is there for later legs."""
        altitude, flight = numbers.at(self.from_altitude, "from_altitude"), self.flight(numbers)
        numbers.flights.append(flight)
        if flight.time_s is None:
            cost = Formula("to_moon_cheapest", (altitude, flight.distance_m))
        else:
            cost = Formula("to_moon", (altitude, flight.distance_m, flight.time_s))
        return Formula("total", (cost, numbers.at(self.model_error, "model_error")))


class FlightEndRecord(MoonRecord):
    """A burn at the Moon's end of a flight."""

    model_error: Annotated[Value, Quantity(SPEED)] = field(
        "What the model leaves out, added to the cost.",
        "{mean: 0 m/s, sd: 8 m/s}",
        default=_error(ARRIVAL_MODEL_SD_M_S),
    )

    def check(self, walk: Walk) -> None:
        """Check that the flight is known."""
        super().check(walk)
        before = walk.parts.legs[: int(walk.base[1])]
        flown = any(isinstance(getattr(leg, "cost", None), ToMoonRecord) for leg in before)
        if not self.stated and not flown and walk.sure:
            message = "No earlier leg flies to the Moon, and nothing says how far it is."
            walk.refuse(f"cost.{self.KIND}", "no-flight", message, 'Write "distance: 384400 km", or a date under on.')
        if not self.stated and self.flight_time is not None:
            message = "The flight time belongs to the leg that flies to the Moon."
            walk.refuse(f"cost.{self.KIND}", "flight-time", message, "Take it out, or say how far the Moon is here.")

    def _cost(self, numbers: Numbers, low: Number, high: Number) -> Number:
        flight = self.flight(numbers)
        if flight.time_s is None:
            cost = Formula("lunar_burn_cheapest", (flight.distance_m, low, high))
        else:
            cost = Formula("lunar_burn", (flight.time_s, flight.distance_m, low, high))
        return Formula("total", (cost, numbers.at(self.model_error, "model_error")))


class LunarOrbitRecord(FlightEndRecord):
    """Brake from the flight into a circular orbit about the Moon."""

    KIND = "lunar_orbit"
    altitude: Annotated[Value, Quantity(LENGTH, _ABOVE_GROUND)] = field("Altitude of the orbit.", "100 km")

    @property
    def orbit(self) -> BurnOrbit:
        """The orbit about the Moon."""
        return BurnOrbit("moon", self.altitude, "altitude", arrives=True, circular=True)

    def bind(self, numbers: Numbers) -> Number:
        """Make the number."""
        altitude = numbers.at(self.altitude, "altitude")
        return self._cost(numbers, altitude, altitude)


class LunarBurnRecord(FlightEndRecord):
    """A burn between a flight and an orbit about the Moon."""

    low: Annotated[Value, Quantity(LENGTH, _ABOVE_GROUND)] = field("Altitude of the orbit's low point.", "100 km")
    high: Annotated[Value | None, Quantity(LENGTH, _ABOVE_GROUND)] = field(
        "Altitude of the orbit's high point; a circular orbit if left out.", "10000 km", default=None
    )

    @property
    def orbit(self) -> BurnOrbit:
        """The orbit about the Moon."""
        arrives = self.KIND == LunarCaptureRecord.KIND
        return BurnOrbit("moon", self.low, "low", arrives, circular=self.high is None or _same(self.low, self.high))

    def check(self, walk: Walk) -> None:
        """Check that the flight is known and the orbit the right way up."""
        super().check(walk)
        if self.high is not None and median(self.high) < median(self.low):
            message = "The orbit's high point lies under its low point."
            walk.refuse(f"cost.{self.KIND}", "upside-down", message, "Write the smaller altitude under low.")

    def bind(self, numbers: Numbers) -> Number:
        """Make the number."""
        low = numbers.at(self.low, "low")
        return self._cost(numbers, low, low if self.high is None else numbers.at(self.high, "high"))


class LunarCaptureRecord(LunarBurnRecord):
    """Brake from the flight into an orbit about the Moon, loose or circular."""

    KIND = "lunar_capture"


class FromMoonRecord(LunarBurnRecord):
    """Leave an orbit about the Moon for the Earth."""

    KIND = "from_moon"

    def flight(self, numbers: Numbers) -> Flight:
        """Make the flight it begins, which is there for an entry to follow where it says how far the Moon is."""
        made = super().flight(numbers)
        if self.stated:
            numbers.flights.append(made)
        return made


class OrbitChangeRecord(CostRecord):
    """Go from one orbit about a body to another of the same plane, by two burns at most."""

    KIND = "orbit_change"
    about: Literal["earth", "moon"] = field("The body.", "moon")
    from_low: Annotated[Value, Quantity(LENGTH, _ABOVE_GROUND)] = field("Low point before, altitude.", "100 km")
    from_high: Annotated[Value, Quantity(LENGTH, _ABOVE_GROUND)] = field("High point before, altitude.", "10000 km")
    to_low: Annotated[Value, Quantity(LENGTH, _ABOVE_GROUND)] = field("Low point after, altitude.", "100 km")
    to_high: Annotated[Value, Quantity(LENGTH, _ABOVE_GROUND)] = field("High point after, altitude.", "100 km")

    def bind(self, numbers: Numbers) -> Number:
        """Make the number."""
        names = ("from_low", "from_high", "to_low", "to_high")
        return Formula(f"orbit_change.{self.about}", tuple(numbers.at(getattr(self, name), name) for name in names))


class PlaneChangeRecord(CostRecord):
    """Turn an orbit's plane at its highest point."""

    KIND = "plane_change"
    about: Literal["earth", "moon"] = field("The body.", "moon")
    low: Annotated[Value, Quantity(LENGTH, _ABOVE_GROUND)] = field("Low point, altitude.", "100 km")
    high: Annotated[Value, Quantity(LENGTH, _ABOVE_GROUND)] = field("High point, altitude.", "10000 km")
    angle: Annotated[Value, Quantity(ANGLE, Bounds(0.0, 3.1416))] = field("The angle between the planes.", "12 deg")

    def bind(self, numbers: Numbers) -> Number:
        """Make the number."""
        names = ("low", "high", "angle")
        return Formula(f"plane_change.{self.about}", tuple(numbers.at(getattr(self, name), name) for name in names))


class HyperbolicRecord(CostRecord):
    """Escape from an orbit, or be captured into it, at a given excess speed."""

    about: Literal["earth", "moon"] = field("The body.", "earth")
    low: Annotated[Value, Quantity(LENGTH, _ABOVE_GROUND)] = field("Low point of the orbit, altitude.", "200 km")
    high: Annotated[Value, Quantity(LENGTH, _ABOVE_GROUND)] = field("High point of the orbit, altitude.", "200 km")
    excess: Annotated[Value, Quantity(SPEED, Bounds(low=0.0))] = field("Hyperbolic excess speed.", "3.1 km/s")

    @property
    def orbit(self) -> BurnOrbit:
        """The orbit left, or ended in."""
        arrives = self.KIND == CaptureRecord.KIND
        return BurnOrbit(self.about, self.low, "low", arrives, circular=_same(self.low, self.high))

    def bind(self, numbers: Numbers) -> Number:
        """Make the number."""
        names = ("low", "high", "excess")
        return Formula(f"hyperbolic.{self.about}", tuple(numbers.at(getattr(self, name), name) for name in names))


class EscapeRecord(HyperbolicRecord):
    """Escape from an orbit at a given excess speed."""

    KIND = "escape"


class CaptureRecord(HyperbolicRecord):
    """Be captured into an orbit at a given excess speed."""

    KIND = "capture"


COST_KINDS: Final[Mapping[str, type[CostRecord]]] = MappingProxyType(
    {
        kind.KIND: kind
        for kind in (
            ToMoonRecord,
            LunarCaptureRecord,
            LunarOrbitRecord,
            FromMoonRecord,
            OrbitChangeRecord,
            PlaneChangeRecord,
            EscapeRecord,
            CaptureRecord,
        )
    }
)
"""Every kind of cost from geometry by the key that names it."""


def _holder(kind: str, record: type[CostRecord]) -> type[Record]:
    fields: dict[str, Any] = {kind: (record, ...)}
    return create_model(f"{record.__name__}Holder", __base__=Record, **fields)


_HOLDERS: Final[Mapping[str, type[Record]]] = {kind: _holder(kind, record) for kind, record in COST_KINDS.items()}
"""A mapping with the kind as its only key, so that what is wrong inside is told with its full place."""


@dataclass(frozen=True, slots=True)
class Cost:
    """Marks a field as a leg cost: a speed, or a mapping that says how it follows from geometry."""

    quantity: Quantity

    def read(self, given: object, info: ValidationInfo) -> Value | CostRecord:
        """Read what a study says.

        Raises
        ------
        pydantic.ValidationError
            With every issue found.
        """
        if not isinstance(given, dict) or len(given) != 1 or not COST_KINDS.keys() & given.keys():
            return self.quantity.read(given, info)
        kind = next(iter(given))
        made: CostRecord = getattr(_HOLDERS[kind].model_validate(given, context=info.context), kind)
        return made

    def write(self, value: Value | CostRecord) -> Tree:
        """Write it in SI."""
        if isinstance(value, CostRecord):
            made: Tree = {value.KIND: value.model_dump(mode="json", exclude_none=True)}
            return made
        return self.quantity.write(value)

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return plain_schema(self.read, self.write)

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        kinds = [
            {
                "type": "object",
                "properties": {kind: record.model_json_schema(by_alias=True)},
                "required": [kind],
                "additionalProperties": False,
            }
            for kind, record in COST_KINDS.items()
        ]
        return {"anyOf": [self.quantity.__get_pydantic_json_schema__(schema, handler), *kinds]}
