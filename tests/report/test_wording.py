"""Numbers as a reader meets them."""

from __future__ import annotations

import pytest

from leadline.report.laws import law_text
from leadline.report.scales import scale_for
from leadline.report.wording import amount, chance, count, difference, quoted, unbroken
from leadline.run.result import Chance, Difference

THIN = "\u202f"


def test_an_interval_is_rounded_outwards() -> None:
    given = Chance(value=0.83204, low=0.82861, high=0.83549, confidence=0.95, method="")
    assert chance(given) == f"83.2{THIN}% (82.8 to 83.6{THIN}%)"  # exact: 82.861 down, 83.549 up


def test_a_chance_short_of_certain_is_never_shown_as_certain() -> None:
    given = Chance(value=0.999998, low=0.99999, high=0.9999999, confidence=0.95, method="")
    text = chance(given)
    assert "100" not in text.replace(f"{THIN}%", "").split("(")[0]
    assert f"100{THIN}%" not in text


@pytest.mark.parametrize(
    ("value", "unit", "expected"),
    [(-425.4, "kg", "−425\u00a0kg"), (1_660.0, "kg", "1.66\u00a0t"), (9.4, "m3", "9.4\u00a0m³"), (0.25, "", "0.25")],
)
def test_amounts(value: float, unit: str, expected: str) -> None:
    assert amount(value, unit) == expected  # exact: powers of ten only


@pytest.mark.parametrize(
    ("largest", "unit", "title", "shown"),
    [
        (2_500.0, "kg", "margin, t", 2.5),
        (900.0, "kg", "margin, kg", 900.0),
        (3_100.0, "m/s", "margin, km/s", 3.1),
        (864_000.0, "s", "margin, d", 10.0),
        (10_800.0, "s", "margin, h", 3.0),
        (12.0, "m3", "margin, m³", 12.0),
        (0.4, "", "margin", 0.4),
        (7.0, "furlong", "margin, furlong", 7.0),
    ],
)
def test_an_axis_reads_in_the_unit_of_its_largest_value(largest: float, unit: str, title: str, shown: float) -> None:
    scale = scale_for((1.0, -largest), unit)
    assert scale.titled("margin") == title
    assert scale(largest) == pytest.approx(shown, rel=1e-6)  # exact: 1 d = 86 400 s, 1 t = 1000 kg


def test_an_axis_of_nothing_keeps_its_unit() -> None:
    assert scale_for((), "kg").titled("mass") == "mass, kg"


def test_a_difference_is_signed_and_in_points() -> None:
    counts = {"both": 1, "option_only": 1, "base_only": 1, "neither": 1}
    given = Difference(value=-0.0412, low=-0.0461, high=-0.0363, confidence=0.9, method="", **counts)
    assert difference(given) == "−4.12 points (−4.61 to −3.63)"


def test_counts_and_quotes() -> None:
    assert count(1_234_567) == f"1{THIN}234{THIN}567"
    assert quoted("return") == "“\u2068return\u2069”"
    assert (
        unbroken("95 % of 100 000 cases, 3.9 t in 4 tanks") == "95\u00a0% of 100\u00a0000 cases, 3.9\u00a0t in 4 tanks"
    )


@pytest.mark.parametrize(
    ("law", "expected"),
    [
        ({"law": "normal", "mean": 447.0, "sd": 1.6}, "normal, mean 447, sd 1.6"),
        ({"law": "empirical", "values": [1.0, 2.0]}, "empirical, values [1, 2]"),
        ({"law": "empirical", "values": [float(n) for n in range(2006)]}, f"[0, 1, 2, 3, 4, 5, and 2{THIN}000 more]"),
        (
            {"law": "clipped", "of": {"law": "normal", "mean": 0.0, "sd": 1.0}, "low": -1.0},
            "(normal, mean 0, sd 1), low −1",
        ),
    ],
)
def test_a_law_is_said_in_a_line(law: dict[str, object], expected: str) -> None:
    assert law_text(law).endswith(expected)  # type: ignore[arg-type]
