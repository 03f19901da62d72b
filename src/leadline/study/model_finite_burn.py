"""What a study says of the time a burn takes: steering, passes, the orbit, the belts."""

from __future__ import annotations

from typing import Annotated, Final

from leadline import vehicle
from leadline.study.bounds import Bounds
from leadline.study.burn_orbit import BurnOrbit
from leadline.study.burn_reach import check_reach
from leadline.study.leg_record import LegRecord
from leadline.study.model_belts import Belts, BeltsRecord, shells_of
from leadline.study.model_costs import CostRecord
from leadline.study.model_numbers import Quantity, Value
from leadline.study.model_vehicle import EngineRecord
from leadline.study.numbers import Numbers
from leadline.study.plain_fields import Whole, Word
from leadline.study.record import Record, field
from leadline.study.walk import Walk
from leadline.units import LENGTH

__all__ = ["FiniteBurnRecord", "OrbitRecord", "completion_name"]

MOST_PASSES: Final = 20
_BODIES: Final = Word(("earth", "moon"), "Bodies")
_WAYS: Final = Word(("departure", "arrival"), "Ways")
_STEERINGS: Final = Word(tuple(steering.value for steering in vehicle.Steering), "Steerings")


def completion_name(burn: str) -> str:
    """Name the requirement that a burn of finite length reaches its energy."""
    return f"completion of {burn}"


class OrbitRecord(Record):
    """The circular orbit that a burn leaves, or ends in."""

    about: Annotated[str, _BODIES] = field("The body.", "earth")
    altitude: Annotated[Value, Quantity(LENGTH, Bounds(low=10e3))] = field("Its altitude.", "420 km")
    way: Annotated[str, _WAYS] = field("Whether the burn leaves it or ends in it.", "departure", default="departure")


class FiniteBurnRecord(LegRecord):
    """The keys that tell how a burn of finite length is flown; without them it is an impulse."""

    steering: Annotated[str | None, _STEERINGS] = field(
        "Where the thrust points: along the velocity, or fixed in space; the loss is then computed and added.",
        "tangential",
        default=None,
    )
    passes: Annotated[int | None, Whole(1, MOST_PASSES)] = field(
        "How many burns, each near perigee, share the cost; the loss is then computed and added.", "2", default=None
    )
    orbit: OrbitRecord | None = field(
        "The circular orbit, where the cost does not tell it.", "{about: earth, altitude: 420 km}", default=None
    )
    belts: Annotated[BeltsRecord | str | None, Belts()] = field(
        "The radiation belts met on the way out: published bounds by their name, or the study's own.",
        "{inner: [1000 km, 12000 km], outer: [13000 km, 60000 km]}",
        default=None,
    )

    @property
    def at_length(self) -> bool:
        """Whether the burn takes its time and loses by it."""
        return self.steering is not None or self.passes is not None

    @property
    def starts(self) -> int:
        """How often the engines start."""
        return 1 if self.passes is None else self.passes

    def check_finite(self, cost: Value | CostRecord, engine: EngineRecord | None, walk: Walk) -> None:
        """Check that the losses of such a burn are known."""
        if not self.at_length:
            self._check_alone(walk)
            return
        if engine is not None and engine.thrust is None:
            message = f"The time that {self.name} takes is asked for, and its engine has no thrust."
            walk.refuse(self._key, "no-thrust", message, 'Give the engine its thrust, such as "thrust: 66 kN".')
        orbit = self._known_orbit(cost, walk)
        if orbit is not None:
            self._check_ways(orbit, walk)
            check_reach(cost, self.starts, engine, orbit, walk)

    def bind_finite(self, cost: Value | CostRecord, numbers: Numbers) -> vehicle.FiniteBurn | None:
        """Make what makes a burn finite; its cost has been bound before."""
        orbit = self._orbit(cost)
        if not self.at_length or orbit is None:
            return None
        if isinstance(cost, CostRecord):
            altitude = numbers.under("cost", cost.KIND).again(orbit.altitude, orbit.key)
        else:
            altitude = numbers.at(orbit.altitude, orbit.key)
        steering = vehicle.Steering.TANGENTIAL if self.steering is None else vehicle.Steering(self.steering)
        return vehicle.FiniteBurn(orbit.about, altitude, orbit.arrives, steering, self.starts, shells_of(self.belts))

    @property
    def _key(self) -> str:
        return "steering" if self.passes is None else "passes"

    def _check_alone(self, walk: Walk) -> None:
        for key in ("orbit", "belts"):
            if getattr(self, key) is not None:
                message = f"A burn that takes no time needs no {key}."
                walk.refuse(key, "no-finite-burn", message, f'Write "steering: tangential" too, or take {key} out.')

    def _orbit(self, cost: Value | CostRecord) -> BurnOrbit | None:
        if isinstance(cost, CostRecord):
            return cost.orbit
        if self.orbit is None:
            return None
        return BurnOrbit(self.orbit.about, self.orbit.altitude, "orbit.altitude", self.orbit.way == "arrival")

    def _known_orbit(self, cost: Value | CostRecord, walk: Walk) -> BurnOrbit | None:
        """Find the circular orbit, and note where there is none or two are told."""
        orbit = self._orbit(cost)
        if isinstance(cost, CostRecord) and self.orbit is not None:
            walk.refuse("orbit", "twice", "The cost tells the orbit already.", "Take orbit out.")
        if orbit is None and isinstance(cost, CostRecord):
            message = f"Losses are known of a burn between a circular orbit and an open one; {cost.KIND} is another."
            remedy = f"Take {self._key} out, or give the cost as a speed, with an orbit."
            walk.refuse(self._key, "no-orbit", message, remedy)
        elif orbit is None:
            message = "Nothing tells which orbit the burn leaves."
            walk.refuse("", "missing-key", message, 'Write "orbit: {about: earth, altitude: 420 km}".')
        elif not orbit.circular:
            message = f"Losses are known of circular orbits, and this burn {_verb(orbit)} an ellipse."
            remedy = f"Take {self._key} out and put the loss into the cost, or make the orbit circular."
            walk.refuse(self._key, "ellipse", message, remedy)
        return orbit if orbit is not None and orbit.circular else None

    def _check_ways(self, orbit: BurnOrbit, walk: Walk) -> None:
        fixed = self.steering == vehicle.Steering.FIXED
        if fixed and self.starts > 1:
            message = "Passes are flown with the thrust along the velocity."
            walk.refuse("steering", "steering", message, 'Write "steering: tangential", or take passes out.')
        if fixed and orbit.arrives:
            message = "The loss of an arrival is known with the thrust along the velocity only."
            walk.refuse("steering", "steering", message, 'Write "steering: tangential".')
        if orbit.arrives and self.starts > 1:
            message = "Only a departure can be shared between passes."
            walk.refuse("passes", "arrival", message, 'Take passes out, or write "passes: 1".')
        if self.belts is not None:
            self._check_belts(orbit, walk, fixed=fixed)

    def _check_belts(self, orbit: BurnOrbit, walk: Walk, *, fixed: bool) -> None:
        if orbit.about != "earth" or orbit.arrives:
            message = "The way through the belts is known for departures from the Earth only."
            walk.refuse("belts", "no-belts", message, "Take belts out.")
        elif fixed:
            message = "The orbits of a burn are known with the thrust along the velocity only."
            walk.refuse("belts", "steering", message, 'Write "steering: tangential", or take belts out.')


def _verb(orbit: BurnOrbit) -> str:
    return "ends in" if orbit.arrives else "leaves"
