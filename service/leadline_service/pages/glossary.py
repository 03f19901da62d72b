"""What the words and numbers on the pages mean, each said once: shown on hover and focus, read out, and printed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Final

__all__ = ["TERMS", "Glossary", "Term"]


@dataclass(frozen=True, slots=True)
class Term:
    """A word, and what it means in a sentence or two."""

    word: str
    says: str


TERMS: Final[Mapping[str, Term]] = {
    "chance": Term(
        "chance",
        "The probability that every requirement is met, or that the one named is: the share of cases in which it was. "
        "The numbers behind it are those the study gives, so it is no better than they are.",
    ),
    "interval": Term(
        "interval",
        "The range that holds the chance with 95 % confidence, given that only so many cases were flown. More cases "
        "narrow it; it says nothing about what the study leaves out.",
    ),
    "case": Term(
        "case",
        "One draw of every uncertain number, flown through all legs. It succeeds when every margin is at least zero.",
    ),
    "seed": Term(
        "seed", "The number all draws follow from: the same study with the same seed gives the same answer to the bit."
    ),
    "margin": Term(
        "margin",
        "The signed distance to a requirement's bound, in the unit of what is bounded; below zero it is missed.",
    ),
    "median_margin": Term("median margin", "Half of the cases have a margin above it, half below."),
    "range": Term("5 to 95 % of cases", "Five cases in a hundred lie below the first number, five above the second."),
    "requirement": Term("requirement", "A bound that must hold: propellant left, a tank's volume, a time, a mass."),
    "law": Term("law", "How the values of an uncertain number are spread: normal, triangular, PERT and others."),
    "nominal": Term("nominal", "The value a law is about: the mean, median or most likely value that the study names."),
    "spread": Term("spread", "How wide a law is about its middle; one half of it draws every value half as far off."),
    "driver": Term("driver", "An uncertain number ranked by how much of the risk it carries."),
    "option": Term("option", "A named alternative: the same study with some values replaced."),
    "median_case": Term("median case", "The one case in which every uncertain number has its median value."),
    "ledger": Term("ledger", "The account of one case, leg by leg: mass, propellant, losses, time."),
    "paired": Term(
        "paired difference",
        "The chance with the change less the chance without it, seen on the same draws. Most of the scatter cancels, "
        "so small differences can be told from none.",
    ),
    "first_failure": Term("what fails first", "Of the requirements a case misses, the one it misses earliest."),
    "share": Term("share", "The part of a margin's variance that goes with one uncertain number."),
    "rate": Term("rate", "Cases flown each second."),
}
"""Every word explained, by its key."""


@dataclass(slots=True)
class Glossary:
    """The terms, remembering which of them a page has used so that it can explain them at its end."""

    used: dict[str, Term] = field(default_factory=dict)

    def use(self, key: str) -> Term:
        """Return a term, and have it explained."""
        return self.used.setdefault(key, TERMS[key])

    def __iter__(self) -> Iterator[tuple[str, Term]]:
        return iter(self.used.items())
