"""Numbers given their names, and their columns where they are dispersed."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from leadline.sampling import Input, Law
from leadline.study.dispersion import Dispersion
from leadline.vehicle import Column, Engine, Number

__all__ = ["Flight", "Numbers"]


@dataclass(frozen=True, slots=True)
class Flight:
    """A flight to or from the Moon: the Moon's distance, and its time, None for the cheapest."""

    distance_m: Number
    time_s: Number | None


@dataclass(slots=True)
class Numbers:
    """Hands out columns in the order in which numbers are met.

    Parameters
    ----------
    base
        The name of the part at hand, with its final dot.
    flights
        Flights to the Moon so far, in the order of the legs.
    engines
        The engines of the vehicle by name, which are there before the legs.
    made
        Every dispersed number made from one of the document, by its name.
    """

    base: str = ""
    inputs: list[Input] = field(default_factory=list)
    fixed: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    flights: list[Flight] = field(default_factory=list)
    engines: dict[str, Engine] = field(default_factory=dict)
    made: dict[str, Number] = field(default_factory=dict)

    def within(self, *steps: str) -> Numbers:
        """Give the same columns to the numbers of another part."""
        base = "".join(f"{step}." for step in steps)
        return replace(self, base=base)

    def under(self, *steps: str) -> Numbers:
        """Give the same columns to the numbers inside a value of this part."""
        return replace(self, base=self.base + "".join(f"{step}." for step in steps))

    def drawn(self, step: str, law: Law) -> Column:
        """Make a number that is drawn from a law the document does not write out."""
        self.inputs.append(Input(self.base + step, law))
        return Column(len(self.inputs) - 1, self.base + step)

    def at(self, value: float | Dispersion, step: str) -> Number:
        """Make a number of a mission from one of the document."""
        name = self.base + step
        if not isinstance(value, Dispersion):
            self.fixed.append(name)
            return value
        self.inputs.append(Input(name, value.law))
        if value.note is not None:
            self.notes.append(f"{name} {value.note}.")
        self.made[name] = Column(len(self.inputs) - 1, name)
        return self.made[name]

    def again(self, value: float | Dispersion, step: str) -> Number:
        """Give a number that has been made of the document before."""
        return self.made[self.base + step] if isinstance(value, Dispersion) else value

    def optional(self, value: float | Dispersion | None, step: str) -> Number | None:
        """Make a number that may be left out."""
        return None if value is None else self.at(value, step)
