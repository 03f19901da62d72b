"""A mission made ready to be flown many times, and the walk that flies it."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from leadline.budget.ledger import Ledger, LedgerRow, record
from leadline.budget.loading import begin
from leadline.budget.margins import KINDS
from leadline.budget.requirement_kind import START
from leadline.budget.sources import sources_of
from leadline.budget.state import State
from leadline.budget.steps import STEPS
from leadline.budget.workspace import Workspace
from leadline.constants import Source
from leadline.vehicle import BurnTime, ElapsedTime, Load, Mission, Refuel, Requirement

__all__ = ["Check", "Outcome", "Plan", "RequirementLabel", "compile_plan"]

Array = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class RequirementLabel:
    """What a row of margins is about; `unit` is SI."""

    name: str
    kind: str
    unit: str
    sentence: str


@dataclass(frozen=True, slots=True)
class Check:
    """One look at one requirement after one leg (-1: before the first)."""

    requirement: int
    leg: int


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of a block of cases.

    Parameters
    ----------
    margins : (r, n)
        Margin of every requirement; a case succeeds when all are at least 0. An entry that
        is not finite marks the case as numerically invalid.
    check_rows : c arrays (n,)
        Every check in the order of `Plan.checks`, that is in the order of the legs. They
        and `margins` are valid until the workspace is used again.
    """

    margins: Array
    check_rows: tuple[Array, ...]


@dataclass(frozen=True, slots=True)
class Plan:
    """A mission made ready to be flown; immutable, and light to send to a worker.

    `checks` are in the order of the legs; `checked_often` are the positions of the
    requirements with more than one; `empty_at_start` are the tanks a leg loads.
    """

    mission: Mission
    requirements: tuple[RequirementLabel, ...]
    checks: tuple[Check, ...]
    legs: tuple[str, ...]
    checked_often: frozenset[int]
    empty_at_start: frozenset[str]
    keeps_time: bool

    def evaluate(self, columns: Array, workspace: Workspace | None = None) -> Outcome:
        """Fly a block of cases through all legs.

        Parameters
        ----------
        columns : (d, n)
            A value of every dispersed number for each case, SI.
        workspace
            Memory to reuse; made anew when None.

        Returns
        -------
        Outcome
        """
        workspace = Workspace(columns.shape[1]) if workspace is None else workspace
        outcome, _ = self._fly(columns, workspace, records=False)
        return outcome

    def ledger(self, columns: Array) -> Ledger:
        """Fly some cases and keep the account of every leg.

        Parameters
        ----------
        columns : (d, n)
            A value of every dispersed number for each case, SI.

        Returns
        -------
        Ledger
        """
        outcome, rows = self._fly(columns, Workspace(columns.shape[1]), records=True)
        return Ledger(tuple(rows), outcome.margins)

    @property
    def sources(self) -> tuple[Source, ...]:
        """Sources of the formulas and data this mission rests on, without repetition."""
        return sources_of(self.mission)

    def _fly(self, columns: Array, workspace: Workspace, *, records: bool) -> tuple[Outcome, list[LedgerRow]]:
        with np.errstate(all="ignore"):  # what is not finite is counted as invalid, not warned of
            return self._walk(columns, workspace, records=records)

    def _walk(self, columns: Array, workspace: Workspace, *, records: bool) -> tuple[Outcome, list[LedgerRow]]:
        workspace.restart()
        state = State(self.mission, columns, workspace, records, self.keeps_time or records)
        begin(state, self.empty_at_start)
        rows = [record(state, "start", "start")] if records else []
        margins = workspace.table(len(self.requirements))
        checked = self._look(state, START, margins, [])
        for position, leg in enumerate(self.mission.legs):
            state.leg = leg
            STEPS[type(leg)](leg, state)
            state.end_leg()
            if records:
                rows.append(record(state, leg.name, type(leg).__name__.lower()))
            self._look(state, position, margins, checked)
        self._take_least(checked, margins)
        return Outcome(margins, tuple(checked)), rows

    def _look(self, state: State, leg: int, margins: Array, checked: list[Array]) -> list[Array]:
        """Make the checks due after a leg and put them behind those made before."""
        while len(checked) < len(self.checks) and self.checks[len(checked)].leg == leg:
            row = self.checks[len(checked)].requirement
            requirement = self.mission.requirements[row]
            out = state.workspace.keep() if row in self.checked_often else margins[row]
            KINDS[type(requirement)].margin(requirement, state, out)
            state.workspace.end_step()
            checked.append(out)
        return checked

    def _take_least(self, checked: list[Array], margins: Array) -> None:
        """Write the margins of the requirements that are checked more than once."""
        begun: set[int] = set()
        for check, values in zip(self.checks, checked, strict=True):
            margin = margins[check.requirement]
            if check.requirement in begun:
                np.minimum(margin, values, out=margin)
            elif check.requirement in self.checked_often:
                np.copyto(margin, values)
                begun.add(check.requirement)


_NEEDS_TIME: Final = (BurnTime, ElapsedTime)


def compile_plan(mission: Mission) -> Plan:
    """Make a mission ready to be flown.

    Parameters
    ----------
    mission
        A mission whose references have been checked.

    Returns
    -------
    Plan
    """
    labels = tuple(_label(requirement) for requirement in mission.requirements)
    checks = [
        Check(position, leg)
        for position, requirement in enumerate(mission.requirements)
        for leg in KINDS[type(requirement)].legs(requirement, mission)
    ]
    looks = Counter(check.requirement for check in checks)
    return Plan(
        mission=mission,
        requirements=labels,
        checks=tuple(sorted(checks, key=lambda check: check.leg)),
        legs=tuple(leg.name for leg in mission.legs),
        checked_often=frozenset(row for row, times in looks.items() if times > 1),
        empty_at_start=frozenset(leg.tank for leg in mission.legs if isinstance(leg, Load | Refuel)),
        keeps_time=any(isinstance(r, _NEEDS_TIME) for r in mission.requirements),
    )


def _label(requirement: Requirement) -> RequirementLabel:
    kind = KINDS[type(requirement)]
    return RequirementLabel(requirement.name, kind.kind, kind.unit, kind.sentence(requirement))
