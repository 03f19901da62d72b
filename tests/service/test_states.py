"""Runs move between states as the table says, and no other way."""

from __future__ import annotations

from itertools import product

import pytest

from leadline_service.states import ENDED, LEASED, MOVES, MoveRefused, RunState, move


def test_every_move_that_is_not_in_the_table_is_refused() -> None:
    for before, after in product(RunState, repeat=2):
        if after in MOVES[before]:
            assert move(before, after) is after
        else:
            with pytest.raises(MoveRefused) as caught:
                move(before, after)
            assert (caught.value.before, caught.value.after) == (before, after)


def test_the_table_is_whole() -> None:
    assert set(MOVES) == set(RunState)
    assert {RunState.FINISHED, RunState.FAILED, RunState.CANCELLED} == ENDED
    assert LEASED.isdisjoint(ENDED)


def test_every_state_is_reached_and_every_run_can_end() -> None:
    reached = {RunState.QUEUED}.union(*MOVES.values())
    assert reached == set(RunState)
    can_end = set(ENDED)
    for _ in RunState:
        can_end |= {before for before, onward in MOVES.items() if onward & can_end}
    assert can_end == set(RunState)


def test_a_refusal_says_where_one_could_go() -> None:
    with pytest.raises(
        MoveRefused, match="a run that is running cannot become cancelled; from there it goes to: failed"
    ):
        move(RunState.RUNNING, RunState.CANCELLED)
    with pytest.raises(MoveRefused, match="it goes to: nowhere"):
        move(RunState.FINISHED, RunState.QUEUED)
