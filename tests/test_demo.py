"""The demo studies tell what they are there to tell."""

from __future__ import annotations

from pathlib import Path

import pytest

import leadline

STUDIES = Path(__file__).parents[1] / "studies"
CASES = 20_000


def chances(name: str) -> dict[str | None, float]:
    study = leadline.load(STUDIES / name)
    return {
        option: (study if option is None else study.with_option(option)).run(cases=CASES).chance.value
        for option in (None, *study.options)
    }


def test_three_ways_to_the_moon_close_are_in_doubt_and_fail() -> None:
    # pinned: the invented scenario is tuned to these; standard error at 20 000 cases 0.4 points at most
    chance = chances("tern-first-look.yaml")
    assert chance[None] > 0.95
    assert 0.3 < chance["hydrogen in the hold"] < 0.7
    assert chance["storables in the hold"] == 0.0


def test_with_everything_asked_the_saddle_and_the_tug_close_and_the_rest_do_not() -> None:
    # pinned, as above; 80 % is asked
    chance = chances("tern.yaml")
    assert 0.85 < chance[None] < 0.92
    assert 0.72 < chance["hydrogen in the hold"] < 0.8
    assert chance["storables in the hold"] == 0.0
    assert 0.89 < chance["tug"] < 0.94


def test_what_kills_the_storable_option_is_the_launcher() -> None:
    for name in ("tern.yaml", "tern-first-look.yaml"):
        result = leadline.load(STUDIES / name).with_option("storables in the hold").run(cases=CASES).document
        assert result.chance.value == 0.0
        assert result.first_failures[0].requirement == "ferry lifted"


def test_the_insertion_takes_what_it_took_in_flight() -> None:
    # published: NASA release 01-201 (2001), Mars Odyssey arrival, 262.8 kg used in 1 182 s; the study's own text says
    # that specific impulse is known to 0.9 %, so propellant and time agree within 1 %
    leg = leadline.load(STUDIES / "insertion.yaml").check().nominal.ledger[-1]
    assert leg.quantities["propellant_burned_kg"] == pytest.approx(262.8, rel=0.01)
    assert leg.quantities["burn_time_s"] == pytest.approx(1182.0, rel=0.01)


@pytest.mark.parametrize("path", sorted(STUDIES.glob("*.yaml")), ids=lambda path: path.stem)
def test_every_demo_study_runs_with_every_option(path: Path) -> None:
    study = leadline.load(path)
    for option in (None, *study.options):
        result = (study if option is None else study.with_option(option)).run(cases=4_096).document
        counted = result.cases
        assert counted.succeeded + counted.failed + counted.invalid == counted.total == 4_096
        assert counted.invalid == 0
        assert sum(each.cases for each in result.first_failures) == counted.failed
