"""The walk through the legs on paper: what is in the stack when a leg needs it.

Nothing is computed. Each leg and requirement checks its own references through the walk,
which keeps who is in the stack, who is apart and who is gone after every leg.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from leadline.errors import Issue, Path
from leadline.study.model_tank import TankRecord
from leadline.study.model_vehicle import EngineRecord
from leadline.study.parts import Parts
from leadline.study.suggest import meant, shortened

__all__ = ["Walk"]


@dataclass(frozen=True, slots=True)
class _Formation:
    """Who is where after a leg; `gone` tells with which leg an element was left behind."""

    stack: frozenset[str]
    gone: dict[str, str]


@dataclass(slots=True)
class Walk:
    """Checks references while going through the legs.

    Parameters
    ----------
    parts
        The study's parts.
    """

    parts: Parts
    issues: list[Issue] = field(default_factory=list)
    base: Path = ()
    formation: _Formation = field(init=False)
    history: dict[str, _Formation] = field(default_factory=dict)
    tanks: dict[str, TankRecord] = field(init=False)
    engines: dict[str, EngineRecord] = field(init=False)
    sure: bool = field(init=False)

    def __post_init__(self) -> None:
        self.tanks, self.engines = self.parts.tanks, self.parts.engines
        self.formation = _Formation(frozenset(self.parts.elements) - self.parts.apart, {})
        self.sure = all(leg is not None for leg in self.parts.legs)

    def begin(self, base: Path) -> None:
        """Turn to the leg or requirement at a path."""
        self.base = base

    def end(self, leg: str) -> None:
        """Keep who is where after a leg."""
        self.history.setdefault(leg, self.formation)

    def refuse(self, step: str, code: str, message: str, remedy: str) -> None:
        """Note an issue at a key of the leg or requirement at hand, or at a key inside it after a dot."""
        self.issues.append(Issue((*self.base, *(step.split(".") if step else ())), message, remedy, code))

    def element(self, step: str, name: str) -> bool:
        """Whether an element exists, noting it if not."""
        if name in self.parts.elements:
            return True
        message = f'There is no element "{shortened(name)}".'
        self.refuse(step, "unknown-element", message, meant(name, self.parts.elements, "Elements"))
        return False

    def tank(self, step: str, name: str) -> TankRecord | None:
        """Find a tank; None, noted, where there is none."""
        if name not in self.tanks and not self._in_doubt(name):
            message = f'There is no tank "{shortened(name)}".'
            self.refuse(step, "unknown-tank", message, meant(name, self.tanks, "Tanks"))
        return self.tanks.get(name)

    def engine(self, step: str, name: str) -> EngineRecord | None:
        """Find an engine; None, noted, where there is none."""
        if name not in self.engines and not self._in_doubt(name):
            message = f'There is no engine "{shortened(name)}".'
            self.refuse(step, "unknown-engine", message, meant(name, self.engines, "Engines"))
        return self.engines.get(name)

    def leg(self, step: str, name: str) -> bool:
        """Whether a leg exists, noting it if not."""
        known = [leg for leg in self.parts.leg_names if leg is not None]
        if name in known or None in self.parts.leg_names:  # a leg without a name may be the one meant
            return name in known
        message = f'There is no leg "{shortened(name)}".'
        self.refuse(step, "unknown-leg", message, meant(name, known, "Legs"))
        return False

    def present(self, step: str, part: str, after: str | None = None) -> None:
        """Note where the element of a part is not in the stack, now or after a leg."""
        element = part.partition(".")[0]
        formation = self._then(after)
        if not self.sure or element not in self.parts.elements or formation is None or element in formation.stack:
            return
        self._absent(step, part, element, formation)

    def kept(self, step: str, part: str, after: str | None = None) -> None:
        """Note where the element of a part has been left behind for good."""
        element = part.partition(".")[0]
        formation = self._then(after)
        if self.sure and formation is not None and element in formation.gone:
            self._absent(step, part, element, formation)

    def join(self, element: str) -> None:
        """Put an element into the stack."""
        self.formation = _Formation(self.formation.stack | {element}, self.formation.gone)

    def part(self, element: str, *, dropped_by: str | None = None) -> None:
        """Take an element out of the stack, for good if a leg drops it."""
        gone = self.formation.gone if dropped_by is None else {**self.formation.gone, element: dropped_by}
        self.formation = _Formation(self.formation.stack - {element}, gone)

    def match(self, step: str, engine: EngineRecord | None, tank: TankRecord | None) -> None:
        """Note where an engine and a tank do not fit: one has an oxidiser, the other does not."""
        if engine is None or tank is None:
            return
        if tank.has_oxidiser and engine.mixture_ratio is None:
            message = f"The engine has no mixture_ratio, and {tank.propellant} has an oxidiser and a fuel."
            self.refuse(
                step, "mixture-ratio", message, "Give the engine its mixture_ratio, oxidiser over fuel by mass."
            )
        if not tank.has_oxidiser and engine.mixture_ratio is not None:
            message = f"The engine has a mixture_ratio, and {tank.propellant} is burned alone."
            self.refuse(step, "mixture-ratio", message, "Take mixture_ratio out, or name another tank.")

    def _absent(self, step: str, part: str, element: str, formation: _Formation) -> None:
        if element in formation.gone:
            leg = formation.gone[element]
            message = f'{part} is no longer there: {element} was dropped with "{leg}".'
            self.refuse(step, "dropped", message, f'Name another, or put this before "{leg}".')
        else:
            message = f"{part} is not in the stack here: {element} is apart."
            self.refuse(step, "apart", message, f"Dock {element} before, or name another.")

    def _then(self, after: str | None) -> _Formation | None:
        return self.formation if after is None else self.history.get(after)

    def _in_doubt(self, part: str) -> bool:
        """Whether a part may belong to an element that could not be read."""
        return self.parts.elements.get(part.partition(".")[0], self) is None
