"""What the first cases of a run tell besides their margins: the ledger's bands, and who goes with what.

They are flown once more with the ledger kept; the ranking of dispersed numbers comes from the same
cases, without another flight.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from leadline.budget import Plan
from leadline.risk import clopper_pearson
from leadline.risk.given_data import FirstOrder, GivenData, OutputFirstOrder
from leadline.risk.shifts import FailureSums
from leadline.run.answer_words import INTERVAL_CONFIDENCE, as_chance
from leadline.run.bands import Bands
from leadline.run.endings import succeeded_cases
from leadline.run.first_result import Settled, ShareRow, SharesOf, ShiftsOf
from leadline.run.result import LedgerBand
from leadline.run.shifts import called_draw, shifts_of
from leadline.run.work import Prepared

__all__ = ["FEWEST_CASES", "LEDGER_BYTES", "LEDGER_CASES", "FirstCases", "first_cases", "share_rows"]

LEDGER_CASES: Final = 16_384
"""Bands are taken from at most so many cases, the first of the run.

The 5 % quantile of so many is one between 4.7 and 5.3 % of all, which no page shows; four times as
many would take most of the time of a run of 100 000 cases.
"""
LEDGER_BYTES: Final = 64_000_000
"""Fewer cases, but no fewer than a thousand, where a long mission's ledger would take more memory."""
FEWEST_CASES: Final = 1_000
FIRST_LOOK: Final = 64
MOST_LOOKS: Final = 9
"""The chance is shown after 64, 128 and so on up to 16 384 cases."""
MOST_ROWS: Final = 8
"""Dispersed numbers kept of each ranking."""


@dataclass(frozen=True, slots=True)
class FirstCases:
    """The ledger's bands over so many cases, and the rankings from them."""

    ledger: tuple[LedgerBand, ...]
    cases: int
    shares: tuple[SharesOf, ...]
    shifts: tuple[ShiftsOf, ...]
    settling: tuple[Settled, ...]


def first_cases(ready: Prepared, cases: int) -> FirstCases:
    """Look closer at the first cases of a run.

    Parameters
    ----------
    ready
        The study made ready.
    cases
        Cases in the run; more than `LEDGER_CASES` are not looked at. Invalid cases are left
        out, and without any valid case there are no bands.
    """
    bands = Bands()
    met: list[npt.NDArray[np.bool_]] = []
    given: GivenData | None = None
    failing: FailureSums | None = None
    most, sampler = min(cases, _affordable(ready.plan)), ready.sampler
    for start in range(0, most, sampler.block_size):
        block = start // sampler.block_size
        scores = sampler.scores(block)[:, : most - start]
        ledger = ready.plan.ledger(sampler.apply_laws(scores))
        bands.add(ledger)
        met.append(succeeded_cases(ledger.margins))
        if not ready.study.inputs:
            continue
        data = GivenData.of(scores, ledger.margins, block=block if sampler.replicates else None)
        sums = FailureSums.of(scores, ledger.margins)
        given = data if given is None else given.merge(data)
        failing = sums if failing is None else failing.merge(sums)
    ledger_bands, seen = bands.finish(most)
    labels = [label.name for label in ready.plan.requirements]
    shares = () if given is None else share_rows(ready, given, labels)
    shifts = () if failing is None else shifts_of(ready, failing, MOST_ROWS)
    return FirstCases(ledger_bands, seen, shares, shifts, _settling(np.concatenate(met), cases))


def _settling(met: npt.NDArray[np.bool_], cases: int) -> tuple[Settled, ...]:
    """Return the chance after each power of two of the first cases; all of them stand in the result itself."""
    looks = [FIRST_LOOK << power for power in range(MOST_LOOKS) if FIRST_LOOK << power <= min(met.size, cases - 1)]
    return tuple(
        Settled(
            cases=look,
            chance=as_chance(clopper_pearson(int(np.count_nonzero(met[:look])), look, INTERVAL_CONFIDENCE)),
        )
        for look in looks
    )


def _affordable(plan: Plan) -> int:
    """Give how many cases of a mission's ledger fit the memory; a leg notes a few numbers for each liquid."""
    liquids = sum(len(tank.liquids) for element in plan.mission.elements for tank in element.tanks)
    each = 8 * (len(plan.legs) + 1) * (6 + 3 * liquids)
    return max(FEWEST_CASES, min(LEDGER_CASES, LEDGER_BYTES // each))


def share_rows(ready: Prepared, given: GivenData, labels: Sequence[str]) -> tuple[SharesOf, ...]:
    """Return the largest shares of some margins.

    Parameters
    ----------
    ready
        The study made ready.
    given
        What its cases came to.
    labels
        Whose margins they are.
    """
    names = [each.name for each in ready.study.inputs]
    calls = {name: called_draw(name) for name in names}
    return tuple(_shares_of(one, calls) for one in given.ranking(names, labels, INTERVAL_CONFIDENCE))


def _shares_of(found: OutputFirstOrder, calls: Mapping[str, str]) -> SharesOf:
    rows = tuple(_share(each, calls) for each in found.indices[:MOST_ROWS])
    return SharesOf(output=found.label, cases=found.cases, shares=rows, reason=found.reason)


def _share(found: FirstOrder, calls: Mapping[str, str]) -> ShareRow:
    return ShareRow(
        input=found.input,
        called=calls[found.input],
        share=as_chance(found.index),
        distinguishable=found.distinguishable,
    )
