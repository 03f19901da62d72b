"""The vehicle as a study writes it: elements with engines and tanks."""

from __future__ import annotations

from typing import Annotated, Final

from pydantic import ValidationInfo, field_validator

from leadline.study import limits
from leadline.study.bounds import ABOVE_ZERO, AT_LEAST_ZERO, Bounds
from leadline.study.model_mass_budget import MassBudgetRecord
from leadline.study.model_numbers import Quantity, Value
from leadline.study.model_tank import TankRecord
from leadline.study.plain_fields import Whole
from leadline.study.pydantic_errors import carried
from leadline.study.record import Name, Record, field
from leadline.units import FORCE, FRACTION, MASS, RATIO, SPECIFIC_IMPULSE

__all__ = ["MOST_ENGINES", "ElementRecord", "EngineRecord", "TankRecord"]

MOST_ENGINES: Final = 40


class EngineRecord(Record):
    """An engine of an element, or several of a kind that burn side by side."""

    isp: Annotated[Value, Quantity(SPECIFIC_IMPULSE, ABOVE_ZERO)] = field("Specific impulse in vacuum.", "447 s")
    thrust: Annotated[Value | None, Quantity(FORCE, ABOVE_ZERO)] = field(
        "Thrust of one engine in vacuum; needed where burn times are asked for.", "66 kN", default=None
    )
    mixture_ratio: Annotated[Value | None, Quantity(RATIO, ABOVE_ZERO)] = field(
        "Oxidiser over fuel by mass; left out for a monopropellant.", "5.9", default=None
    )
    start_loss: Annotated[Value, Quantity(MASS, AT_LEAST_ZERO)] = field(
        "Propellant that each engine loses at each start without giving velocity.", "25 kg", default=0.0
    )
    stop_loss: Annotated[Value, Quantity(MASS, AT_LEAST_ZERO)] = field(
        "Propellant that each engine loses at each stop without giving velocity.", "10 kg", default=0.0
    )
    count: Annotated[int | None, Whole(1, MOST_ENGINES)] = field(
        "How many burn side by side; one if left out.", "3", default=None
    )
    needed: Annotated[int | None, Whole(1, MOST_ENGINES)] = field(
        "How many of them must run; all if left out.", "2", default=None
    )
    ignites: Annotated[Value | None, Quantity(FRACTION, Bounds(0.0, 1.0, open_low=True))] = field(
        "Chance that one engine lights at a start; for sure if left out.", "99.6 %", default=None
    )

    @property
    def how_many(self) -> int:
        """How many there are."""
        return 1 if self.count is None else self.count

    @property
    def least(self) -> int:
        """How many must run."""
        return self.how_many if self.needed is None else self.needed

    @field_validator("needed")
    @classmethod
    def _there_are_enough(cls, needed: int | None, info: ValidationInfo) -> int | None:
        count = 1 if info.data.get("count") is None else info.data["count"]
        if needed is not None and "count" in info.data and needed > count:
            raise carried("too-few", f"{needed} engines are needed, and the count is {count}.", "Write a larger count.")
        return needed


class ElementRecord(Record):
    """A piece of the vehicle with its own dry mass."""

    dry_mass: Annotated[Value, Quantity(MASS, ABOVE_ZERO)] = field("Mass without propellant.", "18.4 t")
    mass_budget: MassBudgetRecord | None = field(
        "The deterministic view of its dry mass, shown beside the chance.",
        "{best: 16 t, growth: 15 %, allowable: 20 t}",
        default=None,
    )
    engines: dict[Name, EngineRecord] = field(
        "Its engines by name.", "{main: {isp: 447 s}}", default={}, max_length=limits.PARTS_PER_ELEMENT
    )
    tanks: dict[Name, TankRecord] = field(
        "Its tanks by name.",
        "{main: {propellant: lox-lh2, load: 50 t}}",
        default={},
        max_length=limits.PARTS_PER_ELEMENT,
    )
