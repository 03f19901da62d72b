"""How pages of cases are taken in: invalid cases, partial runs, what is put back, what is refused."""

from __future__ import annotations

import re
import tracemalloc
from collections.abc import Iterator

import numpy as np
import pytest

from leadline.risk.drivers import find_drivers
from risk.benchmark_functions import Array, linear
from risk.test_drivers import CASES, NAMES, WEIGHTS, linear_drivers, named, only, page

# ----------------------------------------------------------------------------------------------------- invalid cases


def test_invalid_cases_are_left_out_of_the_pairs_they_touch() -> None:
    # exact: dropping the cases by hand gives the same; a margin is not finite where the first input exceeds 1.5
    def margins(z: Array) -> Array:
        reserve = linear(WEIGHTS, 3.0).margins(z)
        return np.where(z[:1] > 1.5, np.nan, reserve)

    first, second = page(4)
    found = find_drivers(margins, [(first, second)], inputs=NAMES, requirements=["reserve"])
    gone, gone_too = first[0] > 1.5, second[0] > 1.5
    invalid = 4 * int(gone.sum()) + 2 * int(gone_too.sum())
    assert (found.invalid, found.evaluations) == (invalid, 6 * CASES)
    valid = ~gone & ~gone_too
    kept = linear(WEIGHTS, 3.0).margins(first)[0, valid], linear(WEIGHTS, 3.0).margins(second)[0, valid]
    for driver in only(found).drivers:
        assert driver.cases == int(valid.sum())
        row = NAMES.index(driver.name)
        swapped = first.copy()
        swapped[row] = second[row]
        c = linear(WEIGHTS, 3.0).margins(swapped)[0, valid]
        assert driver.total.value == pytest.approx(one_less_correlation(kept[0], c), abs=1e-12)
    (note,) = found.notes
    assert note == (
        f"{invalid} of 6 144 evaluations gave a margin that is not finite. The pairs of cases they belong to are left "
        f"out, at most {CASES - int(valid.sum())} for one input, and the indices describe the valid cases only."
    )


def one_less_correlation(x: Array, y: Array) -> float:
    """Return 1 - r of samples of one law, in the form Janon et al. (2014) give (form from memory)."""
    mean = (x.mean() + y.mean()) / 2
    variance = ((x * x).mean() + (y * y).mean()) / 2 - mean**2
    return float(1 - ((x * y).mean() - mean**2) / variance)


def test_cases_invalid_in_the_swapped_sample_alone_are_left_out_there_alone() -> None:
    # exact: the sum of two inputs exceeds a bound only in some swapped cases; the third input's pairs keep them
    def margins(z: Array) -> Array:
        return np.where(z[:1] + z[1:2] > 5.0, np.inf, z.sum(axis=0, keepdims=True))

    first, second = page(3)
    for large, small in ((first[0], first[1]), (second[1], second[0])):  # no sum of these two beyond 4.9
        large[:], small[:] = 2.0 + np.minimum(large, 2.9), -np.abs(small)
    found = find_drivers(margins, [(first, second)], inputs=("x", "y", "z"), requirements=["reserve"])
    lost = {
        "x": int(np.count_nonzero(second[0] + first[1] > 5.0)),
        "y": int(np.count_nonzero(first[0] + second[1] > 5.0)),
        "z": 0,
    }
    assert lost["y"] > 0
    assert {name: CASES - driver.cases for name, driver in named(only(found)).items()} == lost
    assert found.invalid == sum(lost.values())


def test_an_invalid_case_is_no_failure() -> None:
    # exact: the second requirement would fail wherever the first is not finite, and nowhere else
    def margins(z: Array) -> Array:
        return np.stack([np.where(z[0] > 1.0, np.nan, z[0] + 9.0), 1.0 - z[0]])

    found = find_drivers(margins, [page(1)], inputs=["only"], requirements=["reserve", "ballast"])
    assert [output.failures for output in found.outputs] == [None, None, 0, 0, 0]


def test_without_valid_cases_there_are_no_indices() -> None:
    found = find_drivers(lambda z: np.full_like(z[:1], np.nan), [page(2)], inputs=("a", "b"), requirements=["reserve"])
    assert found.invalid == found.evaluations == 4 * CASES
    assert [output.drivers for output in found.outputs] == [(), (), ()]
    assert str(only(found).reason).startswith("Only 0 of 1 024 pairs of cases are valid")


# -------------------------------------------------------------------------------------------------------------- pages


def test_pages_add_up_and_are_put_back() -> None:
    # exact: two pages give what one page of the groups' cases side by side gives, within rounding
    pages = [page(4, seed) for seed in (1, 2)]
    copies = [(first.copy(), second.copy()) for first, second in pages]
    seen: list[int] = []
    function = linear(WEIGHTS, 3.0).margins
    found = find_drivers(function, pages, inputs=NAMES, requirements=["reserve"], progress=seen.append)
    assert seen == [6 * CASES, 12 * CASES]
    assert (found.cases, found.evaluations, found.invalid, found.notes) == (2 * CASES, 12 * CASES, 0, ())
    for page_given, page_before in zip(pages, copies, strict=True):
        np.testing.assert_array_equal(page_given, page_before)
    joined = [
        np.stack([half.reshape(4, 64, -1) for half in halves], axis=2).reshape(4, -1)
        for halves in zip(*pages, strict=True)
    ]
    together = find_drivers(function, [(joined[0], joined[1])], inputs=NAMES, requirements=["reserve"])
    for apart, whole in zip(only(found).drivers, only(together).drivers, strict=True):
        assert apart.total.low == pytest.approx(whole.total.low, abs=1e-12)
        assert apart.first.high == pytest.approx(whole.first.high, abs=1e-12)


def test_pages_may_end_early() -> None:
    def ends_after_one() -> Iterator[tuple[Array, Array]]:
        yield page(4)

    function = linear(WEIGHTS, 3.0).margins
    partial = find_drivers(function, ends_after_one(), inputs=NAMES, requirements=["reserve"])
    assert partial == linear_drivers()
    nothing = find_drivers(function, iter(()), inputs=NAMES, requirements=["reserve"])
    assert {output.reason for output in nothing.outputs} == {"No case was evaluated, so there are no indices."}


def test_margins_may_be_a_view_that_is_written_over() -> None:
    held = np.empty((1, CASES))

    def margins(z: Array) -> Array:
        held[:] = linear(WEIGHTS, 3.0).margins(z)
        return held

    assert find_drivers(margins, [page(4)], inputs=NAMES, requirements=["reserve"]) == linear_drivers()


def test_rows_are_put_back_when_the_function_fails() -> None:
    samples = page(4)
    before = samples[0].copy()
    calls = iter((True, True, False))

    def margins(z: Array) -> Array:
        if next(calls):
            return z[:1]
        raise ArithmeticError("no")

    with pytest.raises(ArithmeticError):
        find_drivers(margins, [samples], inputs=NAMES, requirements=["reserve"])
    np.testing.assert_array_equal(samples[0], before)


def test_memory_does_not_grow_with_the_pages() -> None:
    def peak(pages: int) -> int:
        tracemalloc.start()
        find_drivers(
            linear(WEIGHTS, 3.0).margins, (page(4, seed) for seed in range(pages)), inputs=NAMES, requirements=["r"]
        )
        highest = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        return highest

    peak(1)
    assert peak(40) < 1.3 * peak(4)


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"inputs": ("a", "a", "b", "c")}, "each input needs a name of its own"),
        ({"groups": [(0, 1), (2, 3)]}, "4 names were given for 2 groups of rows"),
        ({"inputs": ("a", "b"), "groups": [(0, 1), (1, 2, 3)]}, "each of the 4 rows of scores must belong to exactly"),
        ({"inputs": ("a", "b", "c")}, "each of the 4 rows of scores must belong to exactly one input"),
        ({"requirements": ["x", "y"]}, "expected margins of shape (2, 1024), not (1, 1024)"),
        ({"confidence": 1.0}, "confidence must lie between 0 and 1"),
    ],
)
def test_arguments_that_do_not_fit_are_refused(changes: dict[str, object], sentence: str) -> None:
    with pytest.raises(ValueError, match=re.escape(sentence)):
        linear_drivers(**changes)


@pytest.mark.parametrize(
    ("pages", "sentence"),
    [
        ([page(1, cases=100)], "a page must hold a multiple of 64 cases, not 100"),
        ([(page(1)[0], page(1, cases=64)[1])], "a page is two samples of one shape"),
        ([page(1), page(1, cases=64)], "pages must be of one size: 1024 cases, not 64"),
    ],
)
def test_pages_that_do_not_fit_are_refused(pages: list[tuple[Array, Array]], sentence: str) -> None:
    with pytest.raises(ValueError, match=sentence):
        find_drivers(lambda z: z, pages, inputs=["only"], requirements=["reserve"])
