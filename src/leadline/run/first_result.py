"""What the first cases of a run tell of the dispersed numbers, and what is not known yet, as documents."""

from __future__ import annotations

from typing import Literal

from leadline.run.document import Chance, Document

__all__ = ["Settled", "ShareRow", "SharesOf", "ShiftRow", "ShiftsOf", "UnknownQuantile", "UnknownsResult"]


class Settled(Document):
    """The chance as it stood after so many cases."""

    cases: int
    chance: Chance


class ShareRow(Document):
    """The share of a margin's variance that goes with one dispersed number, seen in the cases at hand."""

    input: str
    called: str
    share: Chance
    distinguishable: bool


class SharesOf(Document):
    """The largest shares of one requirement's margin; empty where there is a `reason`."""

    output: str
    cases: int
    shares: tuple[ShareRow, ...]
    reason: str | None


class ShiftRow(Document):
    """How a dispersed number differs in failing cases.

    `shift` is in standard deviations of the normal score; `probability` is the chance that it is
    higher (or lower, as `direction` says) in a failing case than in any case.
    """

    input: str
    called: str
    direction: Literal["higher", "lower"]
    shift: Chance
    probability: Chance
    distinguishable: bool


class ShiftsOf(Document):
    """The shifts in the cases that fail one requirement, or any; empty where there is a `reason`."""

    output: str
    failures: int
    cases: int
    shifts: tuple[ShiftRow, ...]
    reason: str | None


class UnknownQuantile(Document):
    """The chance's quantile over what is not known yet."""

    p: float
    chance: Chance


class UnknownsResult(Document):
    """How far the chance may move with what is fixed and only not known yet.

    `draws` of what is not known were each flown with `cases` cases; `spread` is the standard
    deviation of the chance over them without the noise of counting, `estimates` their chances in
    rising order, pulled together to that spread.
    """

    inputs: tuple[str, ...]
    draws: int
    cases: int
    mean: Chance
    spread: Chance
    quantiles: tuple[UnknownQuantile, ...]
    asked: float | None
    reaches: Chance | None
    distinguishable: bool
    estimates: tuple[float, ...]
    sentence: str
