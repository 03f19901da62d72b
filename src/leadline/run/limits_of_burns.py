"""What the model leaves out of burns."""

from __future__ import annotations

from collections.abc import Iterator

from leadline.vehicle import Burn, Mission

__all__ = ["limits_of_burns"]

AT_ONCE = (
    "A burn gives the velocity change stated for it at once; losses from gravity, steering and drag"
    " must be in that number. A burn whose engine has no thrust takes no time."
)
AT_LENGTH = (
    "The loss of a burn with steering or passes is that of planar motion about a point mass between a circular orbit"
    " and the energy of the impulse, at constant thrust, within 0.4 %; drag, flattening and the exact departure"
    " direction are left out, and so is what boils off while the engines burn."
)
PASSES = (
    "Passes share cost and loss evenly, on orbits timed by an impulsive schedule; the mass lost between them by starts"
    " and boil-off lightens the stack, but shortens no loss. Turning the orbit to the Moon's place is left out."
)
BELTS = (
    "Radiation belts are met in the plane of the equator, an upper bound, on the way out only; an entry through them"
    " is not counted, nor is any dose. A single burn through more than half a turn counts as not completed there."
)
IGNITION = (
    "Engines light with the same chance at every start, apart from one another; a start is tried once, what fails once"
    " in a burn stays out of it, and nothing else makes an engine fail."
)


def limits_of_burns(mission: Mission) -> Iterator[str]:
    """Give the limits that matter to a mission's burns."""
    burns = [leg for leg in mission.legs if isinstance(leg, Burn)]
    finite = [burn.finite for burn in burns if burn.finite is not None]
    if len(finite) < len(burns):
        yield AT_ONCE
    if finite:
        yield AT_LENGTH
    if any(one.passes > 1 for one in finite):
        yield PASSES
    if any(one.belts for one in finite):
        yield BELTS
    if any(burn.ignitions for burn in burns):
        yield IGNITION
