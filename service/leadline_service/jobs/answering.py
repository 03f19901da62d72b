"""The further answers of a run, one document each."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import assert_never

from leadline.run.document import Document
from leadline.run.drivers import drivers
from leadline.run.engine import Control
from leadline.run.executors import Executor
from leadline.run.rare import rare
from leadline.run.sizing import size_number
from leadline.run.sweep import sweep_numbers
from leadline.study import Study
from leadline_service.requests import Answer, DriversAnswer, RareAnswer, SizingAnswer, SweepAnswer

__all__ = ["answer_names", "answered"]


def answer_names(answers: Sequence[Answer]) -> tuple[str, ...]:
    """Name each answer by its kind: ``drivers``, ``rare``, ``sizing-1``, ``sweep-1``; a second one of a kind ``-2``."""
    seen: Counter[str] = Counter()
    names = []
    for answer in answers:
        seen[answer.kind] += 1
        alone = answer.kind in {"drivers", "rare"} and seen[answer.kind] == 1
        names.append(answer.kind if alone else f"{answer.kind}-{seen[answer.kind]}")
    return tuple(names)


def answered(study: Study, answer: Answer, seed: int, executor: Executor, control: Control) -> Document:
    """Compute one answer.

    Parameters
    ----------
    study
        What is flown.
    answer
        What is asked.
    seed
        Which draws.
    executor
        Who flies what can be parted; the rest is done in this thread.
    control
        What to tell and ask meanwhile.

    Raises
    ------
    StudyError
        The study has no such number, or does not take a value.
    RunError
        Stopped before there was an answer, or workers or scheduler were lost.
    """
    match answer:
        case DriversAnswer():
            return drivers(study, answer.extent(seed), executor, control)
        case RareAnswer():
            return rare(study, answer.question(seed), control)
        case SizingAnswer():
            return size_number(study, answer.question(seed), control)
        case SweepAnswer():
            return sweep_numbers(study, answer.question(seed), control)
        case _:
            assert_never(answer)
