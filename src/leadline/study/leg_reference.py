"""A requirement's leg, which must be of a kind."""

from __future__ import annotations

from leadline.study.leg_record import LegRecord
from leadline.study.suggest import meant
from leadline.study.walk import Walk

__all__ = ["check_leg"]


def check_leg(step: str, name: str, kind: type[LegRecord], walk: Walk) -> None:
    """Note where a leg does not exist, or is of another kind."""
    if not walk.leg(step, name):
        return
    leg = next((leg for leg in walk.parts.read_legs if leg.name == name), None)
    if leg is not None and not isinstance(leg, kind):
        known = [leg.name for leg in walk.parts.read_legs if isinstance(leg, kind)]
        article = "an" if kind.KIND[0] in "aeiou" else "a"
        message = f"{name} is not {article} {kind.KIND} leg."
        walk.refuse(step, f"no-{kind.KIND}", message, meant(name, known, f"Legs of the kind {kind.KIND}"))
