"""Entry into the Earth's air, as a study writes it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Annotated, Any, Final

from pydantic import ValidationInfo

from leadline import vehicle
from leadline.constants import MOON_MEAN_DISTANCE_M
from leadline.errors import Issue
from leadline.physics.entry import DECELERATION_CAP_M_S2
from leadline.physics.entry_grid import RANGES
from leadline.physics.entry_heating import MODEL_ERRORS, RADIATION_RANGE, ModelError, radiation_applies
from leadline.physics.lunar_transfer import entry_state
from leadline.sampling import Lognormal
from leadline.study.bounds import ABOVE_ZERO, Bounds
from leadline.study.dispersion import Dispersion
from leadline.study.leg_record import LegRecord
from leadline.study.model_costs import FromMoonRecord, ToMoonRecord
from leadline.study.model_numbers import Quantity, Value, median
from leadline.study.numbers import Numbers
from leadline.study.record import Name, Record, Reference, field
from leadline.study.walk import Walk
from leadline.units import ACCELERATION, ANGLE, AREA, AREAL_MASS, LENGTH, RATIO, SPEED, humanise
from leadline.vehicle import Formula, Number

__all__ = ["EntryRecord", "LowOrbitRecord", "ReturnRecord"]

_STEEPEST, _SHALLOWEST = RANGES.flight_path_angle_rad
_ANGLES: Final = Bounds(-_SHALLOWEST, -_STEEPEST)
_SPEEDS: Final = Bounds(*RANGES.speed_m_s)
_PERIGEES: Final = Bounds(-600e3, 118e3)
"""Perigees whose entry angles the table covers, 1.4 to 19.3 degrees at any distance of the Moon (computed)."""

_FASTEST_GROUND_M_S: Final = 465.2
"""Speed of the ground on the equator: 2 pi 6 378 137 m in 86 164 s."""

_TABLE: Final = "The table of flown entries covers "
_FITTED: Final = (
    f"the radiative correlation (Tauber-Sutton) was fitted for {RADIATION_RANGE.speed_m_s[0] / 1e3:g} to "
    f"{RADIATION_RANGE.speed_m_s[1] / 1e3:g} km/s and nose radii of {RADIATION_RANGE.nose_radius_m[0]:g} to "
    f"{RADIATION_RANGE.nose_radius_m[1]:g} m."
)


@dataclass(frozen=True, slots=True)
class Covered(Quantity):
    """Marks a field as a number within what a correlation covers, which a refusal names.

    Parameters
    ----------
    why
        The sentence that names it.
    """

    why: str = ""

    def made(self, given: Any, info: ValidationInfo) -> Value | list[Issue]:
        """Make the number, or say everything that is wrong with it."""
        made = Quantity.made(self, given, info)
        if not isinstance(made, list):
            return made
        beyond = {"out-of-bounds", "impossible-values"}
        return [
            replace(issue, message=f"{issue.message} {self.why}") if issue.code in beyond else issue for issue in made
        ]


def _error(model: ModelError) -> Dispersion:
    parameters = {"median": model.median, "spread": model.spread}
    return Dispersion("lognormal", parameters, Lognormal(model.median, model.spread))


_CONVECTIVE, _RADIATIVE = MODEL_ERRORS
_SPEED: Final = Covered(SPEED, _SPEEDS, why=f"{_TABLE}7.2 to 13 km/s; {_FITTED}")
_ANGLE: Final = Covered(ANGLE, _ANGLES, why=f"{_TABLE}1 to 20 degrees below the horizontal.")


class ReturnRecord(Record):
    """A return from the Moon, by the perigee it would have without an atmosphere."""

    perigee: Annotated[Value, Covered(LENGTH, _PERIGEES, why=f"{_TABLE}1 to 20 degrees.")] = field(
        "Perigee it would have without an atmosphere, altitude.", "40 km"
    )
    distance: Annotated[Value | None, Quantity(LENGTH, Bounds(350_000e3, 410_000e3))] = field(
        "The Moon's distance when it is left; that of the last flight to or from the Moon if left out.",
        "384400 km",
        default=None,
    )


class LowOrbitRecord(Record):
    """A return of the same vehicle from a low orbit, to compare with."""

    speed: Annotated[Value, _SPEED] = field("Inertial speed at 122 km.", "7.8 km/s")
    angle: Annotated[Value, _ANGLE] = field("Angle below the horizontal there.", "1.5 deg")


class EntryRecord(LegRecord):
    """Enter the Earth's air with all that is in the stack."""

    KIND = "entry"
    entry: Name = field("The leg's name.", "home")
    element: Reference | None = field(
        "What enters; everything else must have left the stack. All that is in the stack if left out.",
        "tern",
        default=None,
    )
    speed: Annotated[Value | None, _SPEED] = field("Inertial speed at 122 km.", "11 km/s", default=None)
    angle: Annotated[Value | None, _ANGLE] = field("Angle below the horizontal there.", "6.4 deg", default=None)
    returns: ReturnRecord | None = field(
        "A return from the Moon from which speed and angle follow, in their place.", "{perigee: 40 km}", default=None
    )
    turning: Annotated[Value, Quantity(SPEED, Bounds(-_FASTEST_GROUND_M_S, _FASTEST_GROUND_M_S))] = field(
        "How fast the air moves along with the flight as the Earth turns: 465 m/s eastward over the equator.",
        "400 m/s",
        default=0.0,
    )
    ballistic_coefficient: Annotated[
        Value | None,
        Covered(AREAL_MASS, Bounds(*RANGES.ballistic_coefficient_kg_m2), why=f"{_TABLE}50 to 1000 kg/m2."),
    ] = field("Mass over drag coefficient times area.", "350 kg/m2", default=None)
    area: Annotated[Value | None, Quantity(AREA, ABOVE_ZERO)] = field(
        "Area that drag refers to; with drag_coefficient in the place of ballistic_coefficient.",
        "17 m2",
        default=None,
    )
    drag_coefficient: Annotated[Value | None, Quantity(RATIO, ABOVE_ZERO)] = field(
        "Drag coefficient.", "1.3", default=None
    )
    lift_to_drag: Annotated[Value, Covered(RATIO, Bounds(*RANGES.lift_to_drag), why=f"{_TABLE}0 to 1.")] = field(
        "Lift over drag; 0 for a ballistic entry.", "0.3"
    )
    nose_radius: Annotated[
        Value, Covered(LENGTH, Bounds(*RANGES.nose_radius_m), why=f"{_TABLE}0.3 to 6 m; {_FITTED}")
    ] = field("Radius of the nose, or of the shield of a capsule.", "4.7 m")
    convective_factor: Annotated[Value, Quantity(RATIO, ABOVE_ZERO)] = field(
        "Model error of the convective heating, a factor on it.",
        "{median: 1, spread: 1.2}",
        default=_error(_CONVECTIVE),
    )
    radiative_factor: Annotated[Value, Quantity(RATIO, ABOVE_ZERO)] = field(
        "Model error of the radiative heating, a factor on it.",
        "{median: 1, spread: 1.5}",
        default=_error(_RADIATIVE),
    )
    too_steep: Annotated[Value, Quantity(ACCELERATION, ABOVE_ZERO)] = field(
        "Deceleration above which the entry is too steep.", "50 g0", default=DECELERATION_CAP_M_S2
    )
    low_orbit: LowOrbitRecord | None = field(
        "A return of the same vehicle from low orbit, to compare with in the ledger.",
        "{speed: 7.8 km/s, angle: 1.5 deg}",
        default=None,
    )

    @property
    def implied(self) -> tuple[str, ...]:
        """That it does not skip out, is not too steep, and has a ballistic coefficient in the table."""
        always = (f"capture of {self.name}", f"steepness of {self.name}")
        return always if self.area is None else (*always, f"ballistic coefficient of {self.name}")

    def check(self, walk: Walk) -> None:
        """Check that it is said once how the entry comes in and what enters, and that this is alone."""
        self._check_element(walk)
        self._check_path(walk)
        self._check_drag(walk)
        self._check_speed(walk)

    def _check_element(self, walk: Walk) -> None:
        if self.element is None or not walk.element("element", self.element):
            return
        walk.present("element", self.element)
        others = sorted(walk.formation.stack - {self.element})
        if walk.sure and others:
            message = f"{' and '.join(others)} would enter with {self.element}."
            walk.refuse("element", "not-alone", message, f"Drop or undock {' and '.join(others)} before.")

    def _check_path(self, walk: Walk) -> None:
        stated = [name for name in ("speed", "angle") if getattr(self, name) is not None]
        if self.returns is None and len(stated) < 2:
            missing = "speed" if stated == ["angle"] else "angle" if stated else "speed and angle"
            message = f"Nothing says with what {missing} it meets the air."
            walk.refuse(
                "", "missing-key", message, 'Write "speed: 11 km/s, angle: 6.4 deg" or "returns: {perigee: 40 km}".'
            )
        if self.returns is not None and stated:
            message = f"{' and '.join(stated)} follow from the return."
            walk.refuse(stated[0], "twice", message, "Keep returns, or speed and angle.")
        if self.returns is not None and self.returns.distance is None and walk.sure and not _flown(walk):
            message = "No earlier leg flies to or from the Moon, and nothing says how far it is."
            walk.refuse("returns", "no-flight", message, 'Write "distance: 384400 km".')

    def _check_drag(self, walk: Walk) -> None:
        given = [name for name in ("area", "drag_coefficient") if getattr(self, name) is not None]
        if self.ballistic_coefficient is not None and given:
            message = f"The ballistic coefficient is given, and {' and '.join(given)} too."
            walk.refuse(given[0], "twice", message, "Keep one: ballistic_coefficient, or area and drag_coefficient.")
        elif self.ballistic_coefficient is None and len(given) < 2:
            message = "Nothing says how much air drags."
            walk.refuse(
                "", "missing-key", message, 'Write "ballistic_coefficient: 350 kg/m2", or area and drag_coefficient.'
            )

    def _check_speed(self, walk: Walk) -> None:
        """Check that the speed through the air is covered too, once the Earth's turning is taken off."""
        speed = self._middle_speed
        if speed is None or self.turning == 0.0:
            return
        through_air = speed - median(self.turning)
        if not _SPEEDS.admit(through_air):
            message = f"Through the turning air it is {humanise(through_air, 'm/s')}. {_SPEED.why}"
            walk.refuse("turning", "out-of-bounds", message, "Take turning out, or change the speed.")

    @property
    def _middle_speed(self) -> float | None:
        """The middle of the inertial speed; at the Moon's mean distance where it follows from a return."""
        if self.returns is not None:
            return float(entry_state(MOON_MEAN_DISTANCE_M, median(self.returns.perigee))[0])
        return None if self.speed is None else median(self.speed)

    def bind(self, numbers: Numbers) -> vehicle.Entry:
        """Make the leg that is flown, and say which correlations apply."""
        speed, angle = self._path(numbers)
        self._remark(numbers)
        given = self.ballistic_coefficient
        return vehicle.Entry(
            self.name,
            speed,
            angle,
            numbers.at(self.lift_to_drag, "lift_to_drag"),
            numbers.at(self.nose_radius, "nose_radius"),
            None if given is None else numbers.at(given, "ballistic_coefficient"),
            1.0 if self.area is None else numbers.at(self.area, "area"),
            1.0 if self.drag_coefficient is None else numbers.at(self.drag_coefficient, "drag_coefficient"),
            numbers.at(self.turning, "turning"),
            numbers.at(self.convective_factor, "convective_factor"),
            numbers.at(self.radiative_factor, "radiative_factor"),
            self._low_orbit(numbers.under("low_orbit")),
        )

    def bind_implied(self, numbers: Numbers) -> tuple[vehicle.Requirement, ...]:
        """Make the requirements that come with it."""
        capture, steepness, *coefficient = self.implied
        at_most = numbers.at(self.too_steep, "too_steep")
        return (
            vehicle.Capture(capture, self.name),
            vehicle.Deceleration(steepness, self.name, at_most),
            *(vehicle.BallisticRange(name, self.name) for name in coefficient),
        )

    def _path(self, numbers: Numbers) -> tuple[Number, Number]:
        """Make the inertial speed and the angle below the horizontal at 122 km."""
        if self.returns is not None:
            inside = numbers.under("returns")
            perigee = inside.at(self.returns.perigee, "perigee")
            distance = inside.optional(self.returns.distance, "distance")
            if distance is None:
                distance = numbers.flights[-1].distance_m if numbers.flights else MOON_MEAN_DISTANCE_M
            way = (distance, perigee)
            return Formula("entry_speed", way), Formula("product", (-1.0, Formula("entry_angle", way)))
        return numbers.at(self.speed or 0.0, "speed"), numbers.at(self.angle or 0.0, "angle")

    def _low_orbit(self, numbers: Numbers) -> vehicle.LowOrbitEntry | None:
        if self.low_orbit is None:
            return None
        return vehicle.LowOrbitEntry(
            numbers.at(self.low_orbit.speed, "speed"), numbers.at(self.low_orbit.angle, "angle")
        )

    def _remark(self, numbers: Numbers) -> None:
        speed = self._middle_speed
        if speed is not None:
            applies = radiation_applies(speed - median(self.turning), median(self.nose_radius))
            numbers.notes.append(f"Radiative heating of {self.name}: {applies.value}.")
        for model, value in ((_CONVECTIVE, self.convective_factor), (_RADIATIVE, self.radiative_factor)):
            if value == _error(model):
                said = f"two cases in three within a factor {model.spread:g} ({model.source.standing.value})"
                numbers.notes.append(f"The {model.name} of {self.name} carries the default model error, {said}.")


def _flown(walk: Walk) -> bool:
    """Whether an earlier leg's cost holds a flight to the Moon, or one from it that says how far it is."""
    before = [getattr(leg, "cost", None) for leg in walk.parts.legs[: int(walk.base[1])]]
    return any(isinstance(c, ToMoonRecord) or (isinstance(c, FromMoonRecord) and c.stated) for c in before)
