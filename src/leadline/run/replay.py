"""One case of a run by its number, from the same stream, with its ledger."""

from __future__ import annotations

from typing import Literal

from leadline.run.answer_words import study_label
from leadline.run.case import CaseAccount, account
from leadline.run.result import Document, StudyLabel
from leadline.run.work import Work, draw_block, fly_block, prepared
from leadline.sampling import Design
from leadline.study import Study

__all__ = ["CaseResult", "replay"]


class CaseResult(Document):
    """A case of a run, leg by leg; case numbers count from 0."""

    leadline: Literal[1] = 1
    kind: Literal["case"] = "case"
    study: StudyLabel
    seed: int
    design: str
    case: int
    account: CaseAccount


def replay(study: Study, case: int, *, seed: int = 0, design: Design = Design.INDEPENDENT) -> CaseResult:
    """Fly one case again.

    Its whole block is drawn and flown, as in the run, so every margin is the run's to the bit.

    Parameters
    ----------
    study
        The study of the run.
    case
        The case's number, from 0; it need not have been in the run.
    seed, design
        Those of the run.

    Raises
    ------
    ValueError
        The number is negative.
    """
    if not case >= 0:
        raise ValueError(f"cases are numbered from 0; there is no case {case}")
    ready = prepared(Work.of(study, seed, design))
    block, at = divmod(case, ready.sampler.block_size)
    columns, outcome = fly_block(ready, block, ready.sampler.block_size)
    ledger = ready.plan.ledger(draw_block(ready, block, ready.sampler.block_size))
    names = tuple(each.name for each in ready.study.inputs)
    return CaseResult(
        study=study_label(study),
        seed=seed,
        design=design.value,
        case=case,
        account=account(ready.plan, names, columns, outcome, ledger, at),
    )
