"""The result document: what it holds, and that its numbers are those of the cases."""

from __future__ import annotations

import json

import numpy as np
import pytest

from leadline.run.answer import Asked, answer
from leadline.run.engine import Request, compute
from leadline.run.limits import GEOMETRY, limits_of
from leadline.run.result import QUANTILES, Result
from leadline.run.work import Work, fly_block, prepared, sum_up
from leadline.sampling import Design
from leadline.study import from_mapping
from run.ferries import BLOCK, computed, ferry


@pytest.fixture(scope="module")
def result() -> Result:
    return computed(Request(BLOCK)).result


@pytest.fixture(scope="module")
def margins() -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    """Fly the same block on its own."""
    ready = prepared(Work.of(ferry(), 0, Design.INDEPENDENT))
    return fly_block(ready, 0, BLOCK)[1].margins.copy()


def test_counts_are_those_of_the_cases(result: Result, margins: np.ndarray) -> None:
    assert result.cases.succeeded == int((margins >= 0).all(axis=0).sum())  # exact
    for each, row in zip(result.requirements, margins, strict=True):
        assert each.chance.value == np.mean(row >= 0)  # exact: a count over a power of two


def test_margins_are_those_of_the_cases(result: Result, margins: np.ndarray) -> None:
    for each, row in zip(result.requirements, margins, strict=True):
        margin = each.margin
        assert margin is not None
        # cross-checked: numpy on the same numbers; the sums round differently
        assert margin.mean == pytest.approx(row.mean(), rel=1e-12)
        assert margin.sd == pytest.approx(row.std(ddof=1), rel=1e-9)
        assert (margin.low, margin.high) == (row.min(), row.max())
        assert sum(margin.histogram.counts) + margin.histogram.under + margin.histogram.over == BLOCK
        assert len(margin.histogram.counts) <= 240


def test_quantiles_are_within_a_bin_of_the_cases(result: Result, margins: np.ndarray) -> None:
    for each, row in zip(result.requirements, margins, strict=True):
        assert each.margin is not None
        assert tuple(q.p for q in each.margin.quantiles) == QUANTILES
        for quantile in each.margin.quantiles:
            exact = np.quantile(row, quantile.p)
            if 0.05 <= quantile.p <= 0.95:  # further out, neighbouring cases are further apart than a bin is wide
                # cross-checked: a bin is at most 1/500 of the spread of the cases
                assert quantile.value == pytest.approx(exact, abs=(row.max() - row.min()) / 500)
            assert quantile.low is not None
            assert quantile.high is not None
            assert quantile.low <= exact <= quantile.high


def test_judgement_follows_what_was_asked(result: Result) -> None:
    assert result.judgement.asked == 0.85  # exact: the study's own
    assert result.judgement.verdict == "yes"
    assert result.chance.low > 0.85


def test_sentence_can_be_quoted(result: Result) -> None:
    assert result.sentence.startswith("A ferry out and back: the chance that every requirement is met is ")
    assert "95 % confidence" in result.sentence
    assert result.first_failures[0].requirement in result.sentence


def test_keys_others_rely_on(result: Result) -> None:
    document = json.loads(result.to_json())
    assert document["leadline"] == 1
    assert document["kind"] == "result"
    assert set(document["chance"]) == {"value", "low", "high", "confidence", "method"}
    assert set(document["cases"]) == {"total", "succeeded", "failed", "invalid"}
    assert {"name", "unit", "chance", "margin"} <= set(document["requirements"][0])
    assert {"mean", "sd", "quantiles"} <= set(document["requirements"][0]["margin"])
    assert {"requirement", "leg", "share"} <= set(document["first_failures"][0])
    assert {"title", "digest"} <= set(document["study"])
    assert {"seed", "provenance", "judgement", "ledger", "sentence"} <= set(document)
    assert document["limits"]
    assert document["sources"]


def test_document_reads_back_to_the_same_text(result: Result) -> None:
    assert Result.from_json(result.to_json()).to_json() == result.to_json()
    assert "NaN" not in result.to_json()
    assert "Infinity" not in result.to_json()


def test_ledger_bands_follow_the_legs(result: Result) -> None:
    assert [row.leg for row in result.ledger] == ["start", "out", "wait", "back"]
    assert result.ledger_cases == BLOCK
    masses = [row.mass_kg.p50 for row in result.ledger]
    assert masses[0] == pytest.approx(18_000, rel=2e-3)  # exact: 10 t and 8 t; the median of 16 384 is within 0.2 %
    assert masses[0] > masses[1] >= masses[2] > masses[3]
    for row in result.ledger:
        assert row.mass_kg.p5 < row.mass_kg.p50 < row.mass_kg.p95
        assert set(row.propellant_kg) == {"ferry.hold"}
    assert result.ledger[2].elapsed_s.p50 == pytest.approx(1.5 * 86_400, rel=0.01)  # exact: uniform on 1 to 2 d


def test_a_study_that_asks_for_nothing_is_not_judged() -> None:
    study = ferry().with_values({"ask": None})
    judged = compute(study, Request(BLOCK)).result.judgement
    assert (judged.verdict, judged.asked) == ("not asked", None)


def answered(invalid: int) -> Result:
    """Answer a block in which the first cases have a margin that is no number."""
    ready = prepared(Work.of(ferry(), 0, Design.INDEPENDENT))
    outcome = fly_block(ready, 0, BLOCK)[1]
    outcome.margins[0, :invalid] = np.nan
    asked = Asked(seed=0, design=Design.INDEPENDENT, cases=BLOCK, spans=((0, 1),), partial=False)
    return answer(ready, sum_up(ready, outcome), asked)


def test_invalid_cases_are_counted_and_said_and_never_succeed(result: Result) -> None:
    found = answered(1_000)
    assert found.cases.invalid == 1_000  # exact
    assert found.cases.total == found.cases.succeeded + found.cases.failed + found.cases.invalid
    assert found.chance.value == found.cases.succeeded / BLOCK < result.chance.value
    for each in found.requirements:
        assert each.chance.value <= 1 - 1_000 / BLOCK
    assert any("1 000 cases had a margin that is no number" in note for note in found.notes)


def test_a_run_of_invalid_cases_has_no_margins(result: Result) -> None:
    found = answered(BLOCK)
    assert found.chance.value == 0
    assert [each.margin for each in found.requirements] == [None] * len(result.requirements)
    assert Result.from_json(found.to_json()) == found


def test_a_study_without_dispersions_is_computed() -> None:
    fixed = {
        "vehicle.ferry.dry_mass": "10 t",
        "vehicle.ferry.engines.main": {"isp": "316 s", "mixture_ratio": 1.65},
        "vehicle.ferry.tanks.hold.load": "8 t",
        "legs.out.cost": "900 m/s",
        "legs.back.cost": "700 m/s",
        "legs.wait.lasts": "1 d",
    }
    found = compute(ferry().with_values(fixed), Request(100)).result
    assert (found.inputs, found.chance.value, found.first_failures) == ((), 1.0, ())
    assert found.ledger[-1].mass_kg.p5 == found.ledger[-1].mass_kg.p95
    # exact: rocket equation over both burns
    assert found.ledger[-1].mass_kg.p50 == pytest.approx(18_000 * np.exp(-1_600 / (9.80665 * 316)), rel=1e-12)


def test_inputs_carry_their_units(result: Result) -> None:
    units = {each.name: each.unit for each in result.inputs}
    # SI units, exact by definition of the document
    assert units["vehicle.ferry.dry_mass"] == "kg"
    assert units["vehicle.ferry.engines.main.isp"] == "s"
    assert units["vehicle.ferry.engines.main.mixture_ratio"] == ""
    assert units["legs.out.cost"] == "m/s"


def test_costs_from_geometry_are_said_to_be_so() -> None:
    low, high = "100 km", "900 km"
    cost = {"orbit_change": {"about": "moon", "from_low": low, "from_high": high, "to_low": low, "to_high": low}}
    burn = {"burn": "go", "engine": "a.main", "tank": "a.main", "cost": cost}
    document = {
        "leadline": 1,
        "title": "down",
        "vehicle": {
            "a": {
                "dry_mass": "1 t",
                "engines": {"main": {"isp": "300 s"}},
                "tanks": {"main": {"propellant": "hydrazine", "load": "200 kg"}},
            }
        },
        "legs": [burn],
        "requirements": {"left": {"propellant": "a.main", "at_least": "0 kg"}},
    }
    assert GEOMETRY in limits_of(from_mapping(document))
    given = {**document, "legs": [{**burn, "cost": "100 m/s"}]}
    assert GEOMETRY not in limits_of(from_mapping(given))
