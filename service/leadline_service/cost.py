"""What a run will cost, before it is taken: from the time one case of its study takes here."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import prod
from typing import Final, assert_never

from leadline.run.dispersed import dispersed_numbers
from leadline.run.work import Work, prepared
from leadline.sampling import Design
from leadline.study import Study
from leadline_service.requests import Answer, DriversAnswer, RareAnswer, RunRequest, SizingAnswer, SweepAnswer

__all__ = ["Cost", "cost_of"]

SIZING_VALUES: Final = 40
"""Values that sizing tries at most; see `leadline.risk.sizing_search.Question`."""
CHANGES: Final = 4
"""Changes flown for a dispersed number, at most; see `leadline.run.buy_down`."""
SUBSETS: Final = 1024
SHAPLEY_PAIRS: Final = 16_384
"""The most that Shapley effects take; see `leadline.run.shapley`."""


@dataclass(frozen=True, slots=True)
class Cost:
    """What a run costs at most.

    Parameters
    ----------
    cases
        Cases flown, those for further answers included.
    seconds
        About how long that takes one thread of this machine.
    """

    cases: int
    seconds: float


def cost_of(study: Study, request: RunRequest) -> Cost:
    """Return the most a run can cost.

    Parameters
    ----------
    study
        What is flown: option taken, values replaced.
    request
        What is asked of it.
    """
    size = _size_of(study)
    sides = 1 + len(request.compare or ())
    cases = sides * request.most_cases + sum(_cases(size, answer) for answer in request.answers)
    return Cost(cases, cases * size.case_s)


@dataclass(frozen=True, slots=True)
class _Size:
    """How large a study is: time a case takes, numbers that are dispersed, requirements."""

    case_s: float
    numbers: int
    requirements: int


@lru_cache(maxsize=16)
def _size_of(study: Study) -> _Size:
    ready = prepared(Work.of(study, 0, Design.INDEPENDENT))
    return _Size(ready.case_s, len(dispersed_numbers(study)), len(ready.plan.requirements))


def _cases(size: _Size, answer: Answer) -> int:
    match answer:
        case DriversAnswer():
            indices = answer.pairs * (size.numbers + 2)
            shapley = min(answer.pairs, SHAPLEY_PAIRS) * SUBSETS if answer.shapley else 0
            return indices + answer.cases * (1 + CHANGES * size.numbers) + shapley
        case RareAnswer():
            return answer.most_cases * (1 + size.requirements)
        case SizingAnswer():
            return answer.cases * SIZING_VALUES
        case SweepAnswer():
            return answer.cases * prod(each.steps for each in answer.ranges)
        case _:
            assert_never(answer)
