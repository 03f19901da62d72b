"""A case replayed by its number is the case of the run."""

from __future__ import annotations

import numpy as np
import pytest

from leadline.run.check import check
from leadline.run.replay import replay
from leadline.run.work import Work, fly_block, prepared
from leadline.sampling import Design
from run.ferries import BLOCK, ferry


@pytest.mark.parametrize("design", list(Design))
@pytest.mark.parametrize("case", [0, 17, BLOCK + 3])
def test_replay_is_the_case_of_the_block(design: Design, case: int) -> None:
    ready = prepared(Work.of(ferry(), 4, design))
    block, at = divmod(case, ready.sampler.block_size)
    columns, outcome = fly_block(ready, block, ready.sampler.block_size)
    values, margins = columns[:, at].tolist(), outcome.margins[:, at].tolist()
    account = replay(ferry(), case, seed=4, design=design).account
    assert [each.margin for each in account.requirements] == margins  # exact: to the bit
    assert [each.value for each in account.inputs] == values
    assert (account.state == "succeeds") == all(margin >= 0 for margin in margins)


def test_a_case_in_a_cut_block_is_the_same() -> None:
    ready = prepared(Work.of(ferry(), 0, Design.INDEPENDENT))
    margins = fly_block(ready, 0, 100)[1].margins[:, 42].tolist()
    assert [each.margin for each in replay(ferry(), 42).account.requirements] == margins  # exact: to the bit


def test_failed_case_names_what_failed_first() -> None:
    ready = prepared(Work.of(ferry(), 0, Design.INDEPENDENT))
    failed = int(np.flatnonzero((fly_block(ready, 0, BLOCK)[1].margins < 0).any(axis=0))[0])
    account = replay(ferry(), failed).account
    assert account.state == "fails"
    assert account.first_failure is not None
    first = next(each for each in account.requirements if each.name == account.first_failure.requirement)
    assert not first.met


def test_negative_case_is_refused() -> None:
    with pytest.raises(ValueError, match="no case -1"):
        replay(ferry(), -1)


def test_check_flies_the_medians() -> None:
    checked = check(ferry())
    inputs = {each.name: each.value for each in checked.nominal.inputs}
    # exact: the medians of the laws in the study
    assert inputs["vehicle.ferry.dry_mass"] == pytest.approx(10_000, rel=1e-12)
    assert inputs["legs.wait.lasts"] == pytest.approx(1.5 * 86_400, rel=1e-12)
    assert checked.nominal.ledger[0].mass_kg == pytest.approx(18_000, rel=1e-12)
    assert checked.nominal.state == "succeeds"
    # exact: rocket equation, m1 = m0 exp(-dv / (g0 Isp)), for the first burn
    after = 18_000 * np.exp(-900 / (9.80665 * 316))
    assert checked.nominal.ledger[1].mass_kg == pytest.approx(after, rel=1e-12)
    assert [leg.name for leg in checked.legs] == ["out", "wait", "back"]
    assert checked.options == ("light", "as before")
