"""Practice laws: what each makes of a nominal value, that a study keeps the mark, and where it is from."""

from __future__ import annotations

import json
import math
from typing import Any

import numpy as np
import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st
from scipy.special import ndtr

from leadline.constants import Standing
from leadline.sampling import Law
from leadline.study import Study, from_mapping, json_schema, loads
from leadline.study.bounds import ANY
from leadline.study.data_files import DataFolder
from leadline.study.dispersion import Dispersion, read_dispersion
from leadline.study.practice import MATURITIES, PRACTICES, Practice, practices_for
from leadline.study.reading import read
from leadline.units import DIMENSIONS, MASS, SPECIFIC_IMPULSE
from study.documents import FERRY, changed, refused
from study.json_schema import accepts

NAMES = sorted(PRACTICES)
THREE_SIGMA = float(ndtr(3.0))


def made(name: str, nominal: float) -> Dispersion:
    """Return a number as a study writes it, in SI."""
    practice = PRACTICES[name]
    dimension = practice.dimensions[0]
    written: dict[str, Any] = {"practice": name}
    if practice.takes_nominal:
        written["nominal"] = f"{nominal!r} {dimension.si}".strip()
    found = read_dispersion(written, dimension, ANY, DataFolder(None))
    assert isinstance(found, Dispersion), found
    return found


def law_of(name: str, nominal: float = 1000.0) -> Law:
    return made(name, nominal).law


def pert_sd(low: float, likely: float, high: float) -> float:
    """Return the standard deviation of a PERT law of weight 4: sqrt((m - low)(high - m) / 7)."""
    mean = (low + 4 * likely + high) / 6
    return math.sqrt((mean - low) * (high - mean) / 7)


# Practice: the spreads are common practice from memory; the mean growth is of an uncited table (18, 8, 4, 2, 0 %).
# Exact: each law's moments in closed form, for a nominal value of 1000 in SI.
NORMAL = {
    "isp of a flown engine": 3.0,  # memory, Isp 1-sigma 0.3-0.5 %
    "isp of a new engine": 5.0,
    "thrust of a flown engine": 5.0,  # memory, thrust 1-sigma 0.5-1 %
    "thrust of a new engine": 10.0,
    "mixture ratio without utilisation control": 7.5,  # memory, open loop 0.5-1 %
    "mixture ratio with utilisation control": 2.0,  # memory, with active control 0.15-0.3 %
    "weighed dry mass": 2.0,
    "burn cut-off": 0.5,  # memory, 3-sigma 0.5-3 m/s; does not scale
}
GROWING = {
    "dry mass at concept": (1180.0, pert_sd(1000, 1150, 1480)),  # memory, 1-sigma 5-10 %: 8.8 %
    "dry mass at preliminary design": (1080.0, pert_sd(1000, 1070, 1200)),
    "dry mass at critical design": (1040.0, pert_sd(1000, 1035, 1100)),  # memory, 1-sigma 1-2 %: 1.9 %
    "dry mass of a flown design": (1020.0, pert_sd(990, 1020, 1050)),
}
INSULATION = {"insulation flown": 1.2, "insulation built": 1.35, "insulation on paper": 1.5}
CORRECTIONS = {"outbound corrections": 25.0, "return corrections": 10.0}  # memory, 15-35 and 5-15 m/s at 3 sigma
OTHERS = {"injection error", "unusable propellant"}


def test_every_law_is_checked_below() -> None:
    assert {*NORMAL, *GROWING, *INSULATION, *CORRECTIONS, *OTHERS} == set(NAMES)


@pytest.mark.parametrize(("name", "sd"), NORMAL.items())
def test_normal_laws(name: str, sd: float) -> None:
    law = law_of(name)
    assert law.kind == "normal"
    assert (law.mean, law.median) == (1000.0, 1000.0)
    assert law.sd == pytest.approx(sd, rel=1e-14)


@pytest.mark.parametrize(("name", "mean", "sd"), [(name, *moments) for name, moments in GROWING.items()])
def test_growing_masses(name: str, mean: float, sd: float) -> None:
    law = law_of(name)
    assert law.mean == pytest.approx(mean, rel=1e-14)
    assert law.sd == pytest.approx(sd, rel=1e-12)
    assert f"{mean / 10 - 100:.0f} % in the mean" in PRACTICES[name].says


def test_growth_allowances_are_the_mean_growth_of_the_laws() -> None:
    pairs = {
        "concept": "dry mass at concept",
        "preliminary": "dry mass at preliminary design",
        "critical": "dry mass at critical design",
        "flown": "dry mass of a flown design",
        "weighed": "weighed dry mass",
    }
    for maturity, name in pairs.items():
        assert law_of(name).mean / 1000.0 - 1.0 == pytest.approx(MATURITIES[maturity].growth, abs=1e-12)
    # Published second-hand: equipment off the shelf, slightly and much modified, at least 5, 10 and 20 %.
    rules = {"off the shelf": 0.05, "minor modification": 0.10, "new or modified": 0.20}
    assert {name: MATURITIES[name].growth for name in rules} == rules
    assert set(MATURITIES) == {*pairs, *rules}


@pytest.mark.parametrize(("name", "spread"), INSULATION.items())
def test_insulation(name: str, spread: float) -> None:
    law = law_of(name)
    assert law.median == 1000.0
    sigma = math.log(spread)
    # Exact: mean m exp(s^2/2), sd mean sqrt(exp(s^2) - 1).
    assert law.mean == pytest.approx(1000.0 * math.exp(0.5 * sigma**2), rel=1e-14)
    assert law.sd == pytest.approx(law.mean * math.sqrt(math.expm1(sigma**2)), rel=1e-14)
    assert f"factor {spread:g}" in PRACTICES[name].says


@pytest.mark.parametrize(("name", "at_three_sigma"), CORRECTIONS.items())
def test_corrections_reach_their_figure_with_the_chance_of_three_sigma(name: str, at_three_sigma: float) -> None:
    law = law_of(name)
    assert float(law.quantile(THREE_SIGMA)) == pytest.approx(at_three_sigma, rel=1e-9)
    assert law.median == pytest.approx(at_three_sigma / 3.375, rel=1e-14)
    assert law.support[0] == 0.0


def test_injection_error_is_half_of_a_normal_law() -> None:
    law = law_of("injection error")
    # Exact: mean sd sqrt(2/pi), median sd z(0.75), variance sd^2 (1 - 2/pi).
    assert law.mean == pytest.approx(2.0 * math.sqrt(2.0 / math.pi), rel=1e-9)
    assert law.sd == pytest.approx(2.0 * math.sqrt(1.0 - 2.0 / math.pi), rel=1e-9)
    assert float(law.cdf(2.0)) == pytest.approx(2.0 * float(ndtr(1.0)) - 1.0, rel=1e-12)
    assert law.support[0] == 0.0


def test_unusable_propellant() -> None:
    law = law_of("unusable propellant")
    # Published second-hand: 2 %; the range 1 to 3 % from memory.
    assert law.support == (0.01, 0.03)
    assert law.mean == pytest.approx(0.02, rel=1e-14)
    assert law.sd == pytest.approx(math.sqrt(0.01 * 0.01 / 7), rel=1e-12)


@given(st.sampled_from(NAMES), st.floats(1e-3, 1e9), st.floats(0.1, 10.0))
def test_a_law_in_proportion_scales_with_its_nominal_value(name: str, nominal: float, factor: float) -> None:
    once, scaled = law_of(name, nominal), law_of(name, nominal * factor)
    p = np.array([0.001, 0.2, 0.5, 0.9, 0.999])
    if PRACTICES[name].scales:
        np.testing.assert_allclose(scaled.quantile(p), once.quantile(p) * factor, rtol=1e-9)
        assert scaled.sd / once.sd == pytest.approx(factor, rel=1e-9)
    else:  # a spread of its own, about a mean that may move
        shift = nominal * (factor - 1.0) if PRACTICES[name].takes_nominal else 0.0
        assert scaled.mean - once.mean == pytest.approx(shift, rel=1e-9, abs=1e-6)
        assert scaled.sd == once.sd


@pytest.mark.parametrize("name", NAMES)
def test_every_law_says_what_it_is_and_where_it_is_from(name: str) -> None:
    practice: Practice = PRACTICES[name]
    assert practice.name == name
    assert practice.says.endswith(".")
    if practice.source.standing is Standing.PRACTICE:
        assert "from memory" in practice.source.where
    assert practice in practices_for(practice.dimensions[0])


def test_maturities_say_where_they_are_from() -> None:
    assert all(one.source.title and one.source.where for one in MATURITIES.values())
    assert {one.source.standing for one in MATURITIES.values()} == {Standing.PRACTICE, Standing.SECOND_HAND}


# ------------------------------------------------------------------------------------------------- in a study

MARKED = changed(
    FERRY,
    ("isp: {mean: 447 s, sd: 1.6 s}", "isp: {nominal: 447 s, practice: isp of a flown engine}"),
    ("{mean: 5.9, sd: 0.04}", "{practice: mixture ratio with utilisation control, nominal: 5.9}"),
    ("unusable: {low: 0.6 %, likely: 1 %, high: 2 %}", "unusable: {practice: unusable propellant}"),
    ("fuel: {median: 240 W, spread: 1.35}", "fuel: {practice: insulation on paper, nominal: 0.24 kW}"),
    ("cost: {mean: 3.13 km/s, sd: 12 m/s}", "cost: {practice: burn cut-off, nominal: 3.13 km/s}"),
)  # fmt: skip
RESTING = [
    ("vehicle.creel.tanks.main.unusable", "unusable propellant"),
    ("vehicle.creel.tanks.main.heat_leak.fuel", "insulation on paper"),
    ("vehicle.plover.engines.main.isp", "isp of a flown engine"),
    ("vehicle.plover.engines.main.mixture_ratio", "mixture ratio with utilisation control"),
    ("legs.departure.cost", "burn cut-off"),
]


@pytest.fixture(scope="module")
def marked() -> Study:
    return loads(MARKED)


def test_a_study_lists_the_numbers_that_rest_on_practice(marked: Study) -> None:
    assert sorted((one.name, one.practice.name) for one in marked.practices) == sorted(RESTING)
    laws = {given.name: given.law for given in marked.inputs}
    assert all(one.law is laws[one.name] for one in marked.practices)
    assert loads(FERRY).practices == ()


def test_a_practice_law_draws_as_the_same_law_written_out(marked: Study) -> None:
    written = changed(
        FERRY,
        ("isp: {mean: 447 s, sd: 1.6 s}", "isp: {mean: 447 s, sd: 1.341 s}"),
        ("mixture_ratio: {mean: 5.9, sd: 0.04}", "mixture_ratio: {mean: 5.9, sd: 0.0118}"),
        ("unusable: {low: 0.6 %, likely: 1 %, high: 2 %}", "unusable: {low: 1 %, likely: 2 %, high: 3 %}"),
        ("fuel: {median: 240 W, spread: 1.35}", "fuel: {median: 240 W, spread: 1.5}"),
        ("cost: {mean: 3.13 km/s, sd: 12 m/s}", "cost: {mean: 3.13 km/s, sd: 0.5 m/s}"),
    )
    other = loads(written)
    assert [given.name for given in other.inputs] == [given.name for given in marked.inputs]
    for ours, theirs in zip(marked.inputs, other.inputs, strict=True):
        assert ours.law.mean == pytest.approx(theirs.law.mean, rel=1e-13)
        assert ours.law.sd == pytest.approx(theirs.law.sd, rel=1e-13)
    assert marked.digest != other.digest  # what it rests on is part of what a study says


def test_the_resolved_study_keeps_mark_and_law(marked: Study) -> None:
    resolved = marked.resolved()
    isp = dict(resolved["vehicle"]["plover"]["engines"]["main"]["isp"])
    # Exact: 0.3 % of 447 s.
    assert isp.pop("sd") == f"{0.003 * 447.0!r} s"
    assert isp == {"law": "normal", "mean": "447.0 s", "practice": "isp of a flown engine", "nominal": "447.0 s"}
    schema = json_schema()
    assert accepts(schema, read(MARKED).tree, schema)
    assert accepts(schema, resolved, schema)
    for again in (from_mapping(resolved), loads(json.dumps(resolved)), loads(yaml.safe_dump(resolved))):
        assert again.resolved() == resolved
        assert (again.digest, again.inputs, again.practices, again.notes) == (
            marked.digest, marked.inputs, marked.practices, marked.notes,
        )  # fmt: skip


def test_every_note_names_the_number_the_law_and_its_standing(marked: Study) -> None:
    for name, practice in RESTING:
        standing = PRACTICES[practice].source.standing.value
        assert f'{name} rests on the practice law "{practice}": {standing}.' in marked.notes


def test_an_option_may_take_a_number_off_practice(marked: Study) -> None:
    fired = marked.with_values({"plover.engines.main.isp": "{mean: 446 s, sd: 1.1 s}"})
    assert {one.name for one in fired.practices} == {name for name, _ in RESTING} - {"vehicle.plover.engines.main.isp"}
    moved = marked.with_values({"plover.engines.main.isp.nominal": "440 s"})
    assert next(given.law.mean for given in moved.inputs if given.name.endswith("isp")) == 440.0


def test_a_law_written_out_beside_must_be_the_same() -> None:
    resolved = loads(MARKED).resolved()
    resolved["vehicle"]["plover"]["engines"]["main"]["isp"]["sd"] = "1.6 s"
    issue = refused(yaml.safe_dump(resolved))
    assert (issue.code, issue.path) == ("other-law", ("vehicle", "plover", "engines", "main", "isp"))
    resolved["vehicle"]["plover"]["engines"]["main"]["isp"].update(law="lognormal", median="447 s", spread=1.1)
    for key in ("mean", "sd"):
        del resolved["vehicle"]["plover"]["engines"]["main"]["isp"][key]
    assert refused(yaml.safe_dump(resolved)).code == "other-law"


def test_a_law_that_leaves_the_bounds_is_refused_with_another_remedy() -> None:
    # A cut-off error of 0.5 m/s about a burn of 1 m/s is below zero with a chance of 2.3 %.
    issue = refused(changed(FERRY, ("cost: 450 m/s", "cost: {practice: burn cut-off, nominal: 1 m/s}")))
    assert issue.code == "impossible-values"
    assert "a law of your own" in issue.remedy


@pytest.mark.parametrize("dimension", DIMENSIONS, ids=lambda d: d.name)
def test_the_schema_offers_exactly_the_laws_for_a_dimension(dimension: Any) -> None:
    schema = json_schema()
    number = schema["$defs"].get(f"number of {dimension.name}".replace(" ", "_"), {"anyOf": []})
    offered = [n for part in number["anyOf"] for n in part.get("properties", {}).get("practice", {}).get("enum", [])]
    known = {one.name for one in practices_for(dimension)}
    assert set(offered) == (known if number["anyOf"] else set())


def test_the_schema_wants_a_nominal_value_where_the_law_does() -> None:
    schema = json_schema()
    good = yaml.safe_load(MARKED)
    assert accepts(schema, good, schema)
    del good["vehicle"]["plover"]["engines"]["main"]["isp"]["nominal"]
    assert not accepts(schema, good, schema)
    other = yaml.safe_load(MARKED)
    other["vehicle"]["plover"]["engines"]["main"]["isp"]["practice"] = "burn cut-off"
    assert not accepts(schema, other, schema)


def test_a_nominal_value_must_be_possible() -> None:
    def read_one(text: str) -> Any:
        return read_dispersion(
            {"practice": "isp of a new engine", "nominal": text}, SPECIFIC_IMPULSE, ANY, DataFolder(None)
        )

    for text in ("0 s", "-3 s"):
        (issue,) = read_one(text)
        assert (issue.path, issue.code) == (("nominal",), "out-of-bounds")
        assert "above 0 s" in issue.remedy
    (issue,) = read_one("447 kg")
    assert issue.path == ("nominal",)


@pytest.mark.parametrize("kind", [3, None, ["knowledge"], {"a": 1}])
@pytest.mark.parametrize("key", ["kind", "practice", "nominal"])
def test_marks_of_the_wrong_type_are_refused(key: str, kind: Any) -> None:
    written = {"practice": "dry mass at concept", "nominal": "3 t", key: kind}
    found = read_dispersion(written, MASS, ANY, DataFolder(None))
    assert isinstance(found, list)
    assert found
