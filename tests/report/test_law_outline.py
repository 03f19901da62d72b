"""Laws drawn small."""

from __future__ import annotations

import re

import pytest

from leadline.report.law_outline import HEIGHT, WIDTH, law_outline
from leadline.run.result import OUTLINE
from leadline.sampling import Discrete, Law, Normal, Uniform


def points(law: Law) -> list[tuple[float, float]]:
    drawn = law_outline([float(law.quantile(p)) for p in OUTLINE])
    assert drawn.startswith("<svg ")
    return [(float(x), float(y)) for x, y in re.findall(r"([\d.]+),([\d.]+)", drawn)]


def test_a_normal_law_is_a_hill_in_the_middle() -> None:
    drawn = points(Normal(18.0, 0.5))
    top = min(drawn, key=lambda point: point[1])
    assert top[0] == pytest.approx(WIDTH / 2, abs=WIDTH / 20)  # exact: symmetric, thickest in the middle
    assert drawn[0] == (0.0, float(HEIGHT))
    assert drawn[-1] == (float(WIDTH), float(HEIGHT))


def test_a_uniform_law_is_flat() -> None:
    inner = points(Uniform(2.0, 4.0))[1:-1]
    assert max(y for _, y in inner) - min(y for _, y in inner) < 0.2  # exact but for the digits drawn


def test_a_law_of_few_values_is_upright_lines() -> None:
    drawn = points(Discrete((1.0, 3.0), (0.75, 0.25)))
    heights = {x: HEIGHT - min(y for at, y in drawn if at == x) for x in (0.0, float(WIDTH))}
    assert heights[0.0] > 2 * heights[float(WIDTH)] > 0  # three to one


@pytest.mark.parametrize("quantiles", [(), (1.0,), (2.0, 2.0, 2.0)])
def test_nothing_to_draw_is_nothing(quantiles: tuple[float, ...]) -> None:
    assert not law_outline(quantiles)
