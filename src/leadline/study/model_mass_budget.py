"""The deterministic mass budget of an element, as a study writes it."""

from __future__ import annotations

import math
from typing import Annotated, Self

from pydantic import AfterValidator, Field, model_validator

from leadline.budget.margin_definitions import MassBudget
from leadline.study.bounds import ABOVE_ZERO, AT_LEAST_ZERO
from leadline.study.model_numbers import Quantity
from leadline.study.practice import MATURITIES
from leadline.study.pydantic_errors import carried
from leadline.study.record import Record, field
from leadline.study.suggest import meant, shortened
from leadline.units import FRACTION, MASS

__all__ = ["MassBudgetRecord"]


def _known_maturity(given: str) -> str:
    if given not in MATURITIES:
        message = f'"{shortened(given)}" is no maturity known.'
        raise carried("unknown-maturity", message, meant(given, MATURITIES, "Maturities"))
    return given


Maturity = Annotated[str, AfterValidator(_known_maturity), Field(json_schema_extra={"enum": list(MATURITIES)})]


class MassBudgetRecord(Record):
    """Best estimate, growth allowance and allowable mass of an element; flown by no case, shown beside the chance."""

    best: Annotated[float, Quantity(MASS, ABOVE_ZERO, fixed=True)] = field(
        "Best estimate of the dry mass today, growth left out.", "16 t"
    )
    growth: Annotated[float | None, Quantity(FRACTION, AT_LEAST_ZERO, fixed=True)] = field(
        "Growth allowance as a share of the best estimate.", "15 %", default=None
    )
    maturity: Maturity | None = field(
        "How far the design has come, which gives the growth allowance commonly taken.", "preliminary", default=None
    )
    allowable: Annotated[float, Quantity(MASS, ABOVE_ZERO, fixed=True)] = field("The most it may weigh.", "20 t")

    @model_validator(mode="after")
    def _growth_said_once(self) -> Self:
        if self.growth is None and self.maturity is None:
            message = "Neither growth nor maturity says how much the mass may grow."
            raise carried("missing-key", message, 'Write "growth: 15 %" or "maturity: preliminary".')
        usual = None if self.maturity is None else MATURITIES[self.maturity].growth
        if self.growth is not None and usual is not None and not math.isclose(self.growth, usual, abs_tol=1e-12):
            growths = f"is {100 * usual:g} %, not {100 * self.growth:g} %"
            message = f'The growth commonly taken at maturity "{self.maturity}" {growths}.'
            raise carried("twice", message, "Keep either growth or maturity.")
        return self

    @property
    def masses(self) -> MassBudget:
        """The masses, with the growth that the maturity gives where none is written."""
        return MassBudget(self.best, self.settled.growth or 0.0, self.allowable)

    @property
    def settled(self) -> MassBudgetRecord:
        """The same with the growth written out."""
        if self.growth is not None or self.maturity is None:
            return self
        return self.model_copy(update={"growth": MATURITIES[self.maturity].growth})
