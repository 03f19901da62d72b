"""The same study and seed give the same bytes, however the run went."""

from __future__ import annotations

import random
import threading
from collections.abc import Iterable, Iterator
from typing import TypeVar

import pytest

from leadline.errors import RunError
from leadline.run.engine import Control, Kept, Progress, Request, compute, run_study
from leadline.run.executors import InProcess, Stopped, Task
from leadline.run.result import Result
from leadline.sampling import Design
from run.ferries import BLOCK, computed, ferry

T = TypeVar("T")
CASES = 100_000  # six blocks and a cut one


class Shuffled(InProcess):
    """Does the ranges in an order of its own, and cuts them into single blocks."""

    def __init__(self, seed: int) -> None:
        self.random = random.Random(seed)  # noqa: S311 - an order, no secret

    def map(self, task: Task[T], ranges: Iterable[range], stopped: Stopped) -> Iterator[tuple[range, T]]:
        blocks = [
            range(start, min(start + BLOCK, cases.stop))
            for cases in ranges
            for start in range(cases.start, cases.stop, BLOCK)
        ]
        self.random.shuffle(blocks)
        yield from super().map(task, blocks, stopped)


class StopsAfter:
    """Asks to stop once it has been asked so many times."""

    def __init__(self, times: int) -> None:
        self.left = times

    def __call__(self) -> bool:
        self.left -= 1
        return self.left < 0


@pytest.fixture(scope="module")
def whole() -> Result:
    """Compute what every other run must equal."""
    return computed(Request(CASES)).result


def test_every_case_ends_in_one_state(whole: Result) -> None:
    cases = whole.cases
    assert cases.total == CASES == cases.succeeded + cases.failed + cases.invalid  # exact
    assert sum(each.cases for each in whole.first_failures) == cases.failed
    assert sum(each.cases for each in whole.combinations) == cases.failed
    assert cases.failed > 0


@pytest.mark.parametrize("seed", [1, 2])
def test_order_of_blocks_does_not_matter(whole: Result, seed: int) -> None:
    assert computed(Request(CASES), Shuffled(seed)).result.to_json() == whole.to_json()


@pytest.mark.parametrize("first", [40_000, 3 * BLOCK, 1_000])
def test_cases_added_later_give_the_same_bytes(whole: Result, first: int) -> None:
    kept = computed(Request(first)).kept
    again = compute(ferry(), Request(CASES), start_from=kept)
    assert again.result.to_json() == whole.to_json()
    assert kept.spans == (((0, first // BLOCK),) if first >= BLOCK else ())


def test_what_is_kept_of_another_stream_is_not_used() -> None:
    kept = computed(Request(40_000, seed=5)).kept
    assert kept.summary is not None
    again = compute(ferry(), Request(50_000), start_from=kept)
    assert again.result.to_json() == computed(Request(50_000)).result.to_json()


def test_what_is_kept_beyond_the_cases_asked_for_is_not_used() -> None:
    kept = computed(Request(CASES)).kept
    again = compute(ferry(), Request(40_000), start_from=kept)
    assert again.result.to_json() == computed(Request(40_000)).result.to_json()


@pytest.mark.parametrize("design", [Design.LATIN, Design.SOBOL])
def test_replicates_are_filled_up(design: Design) -> None:
    result = computed(Request(10_000, design=design)).result
    # exact: blocks of 4 096
    assert result.cases.total == 12_288
    assert any("12 288" in note for note in result.notes)
    assert "replicates" in result.chance.method


def test_another_seed_gives_other_cases(whole: Result) -> None:
    assert computed(Request(CASES, seed=1)).result.cases != whole.cases


@pytest.mark.parametrize("asked", [0, 3])
def test_a_stopped_run_keeps_what_is_done_and_can_go_on(whole: Result, asked: int) -> None:
    saved: list[Kept] = []
    stopped = computed(Request(CASES), control=Control(stopped=StopsAfter(asked + 1), save=saved.append))
    assert stopped.result.partial
    assert 0 < stopped.result.cases.total < CASES
    assert stopped.result.cases.total % BLOCK == 0
    assert stopped.result.provenance.blocks == stopped.kept.spans == saved[-1].spans
    assert any("stopped early" in note for note in stopped.result.notes)
    again = compute(ferry(), Request(CASES), start_from=saved[-1])
    assert again.result.to_json() == whole.to_json()


def test_blocks_finished_out_of_order_are_said_and_filled(whole: Result) -> None:
    stopped = computed(Request(CASES), Shuffled(3), Control(stopped=StopsAfter(3)))
    blocks = stopped.result.provenance.blocks
    assert sum(high - low for low, high in blocks) == 3
    assert blocks != ((0, 3),)  # the order of seed 3 leaves holes
    again = compute(ferry(), Request(CASES), start_from=stopped.kept)
    assert again.result.to_json() == whole.to_json()


def test_stopped_before_anything_is_an_error() -> None:
    with pytest.raises(RunError, match="stopped before"):
        computed(Request(CASES), control=Control(stopped=lambda: True))


class Breaks(InProcess):
    """Fails after so many ranges."""

    def __init__(self, after: int) -> None:
        self.after = after

    def map(self, task: Task[T], ranges: Iterable[range], stopped: Stopped) -> Iterator[tuple[range, T]]:
        for number, done in enumerate(super().map(task, ranges, stopped)):
            if number == self.after:
                raise RunError("broken")
            yield done


def test_a_failed_run_saves_what_is_done(whole: Result) -> None:
    saved: list[Kept] = []
    with pytest.raises(RunError, match="broken"):
        computed(Request(CASES), Breaks(2), Control(save=saved.append))
    assert saved[-1].summary is not None
    assert compute(ferry(), Request(CASES), start_from=saved[-1]).result.to_json() == whole.to_json()


def half_width(result: Result) -> float:
    return (result.chance.high - result.chance.low) / 2


def test_precision_is_decided_at_fixed_block_counts() -> None:
    result = computed(Request(until=0.0016)).result
    assert half_width(result) <= 0.0016
    assert result.cases.total % BLOCK == 0
    before = {5: 4, 6: 5, 7: 6, 8: 7, 10: 8, 12: 10, 14: 12, 16: 14}  # exact: the fixed counts, each after the last
    earlier = before[result.cases.total // BLOCK]
    assert half_width(computed(Request(earlier * BLOCK)).result) > 0.0016
    assert result.to_json() == computed(Request(result.cases.total)).result.to_json()
    assert result.to_json() == computed(Request(until=0.0016), Shuffled(1)).result.to_json()


def test_precision_not_reached_is_said() -> None:
    result = computed(Request(20_000, until=0.0001)).result
    assert (result.cases.total, result.partial) == (20_000, False)
    assert any("not reached" in note for note in result.notes)


def test_progress_tells_cases_and_chance(whole: Result) -> None:
    told: list[Progress] = []
    computed(Request(CASES), Shuffled(1), Control(progress=told.append))
    assert [each.cases for each in told] == sorted(each.cases for each in told)
    assert told[-1].cases == told[-1].wanted == CASES
    assert told[-1].left_s == 0.0
    assert told[-1].chance == whole.chance


def test_run_study_takes_an_event() -> None:
    event = threading.Event()
    result = run_study(ferry(), cases=CASES, cancel=event, progress=lambda _: event.set(), executor=Shuffled(1))
    assert result.partial
    assert result.cases.total == BLOCK


def test_impossible_requests() -> None:
    with pytest.raises(ValueError, match="cases"):
        Request(cases=0)
    with pytest.raises(ValueError, match="seed"):
        Request(seed=-1)
    with pytest.raises(ValueError, match="until"):
        Request(until=1.0)
