"""What a good study becomes: the mission, its columns, its laws, what was left unsaid."""

from __future__ import annotations

import math
import pickle

import pytest

from leadline import vehicle
from leadline.errors import StudyError
from leadline.sampling import (
    Clipped,
    Discrete,
    Empirical,
    Law,
    Lognormal,
    Normal,
    Pert,
    RankCorrelation,
    Triangular,
    TruncatedNormal,
    Uniform,
)
from leadline.study import Study, from_mapping, loads
from study.documents import FERRY, LEAST, ORBITER, changed, law

COLUMNS = [
    "vehicle.creel.dry_mass",
    "vehicle.creel.tanks.main.unusable",
    "vehicle.creel.tanks.main.heat_leak.fuel",
    "vehicle.plover.dry_mass",
    "vehicle.plover.engines.main.isp",
    "vehicle.plover.engines.main.mixture_ratio",
    "legs.departure.cost",
    "legs.outbound.lasts",
]


@pytest.fixture(scope="module")
def ferry() -> Study:
    return loads(FERRY)


def test_every_dispersed_number_has_its_column_and_its_place_as_name(ferry: Study) -> None:
    assert [given.name for given in ferry.inputs] == COLUMNS
    burn = ferry.mission.legs[1]
    assert isinstance(burn, vehicle.Burn)
    assert burn == vehicle.Burn("departure", "plover.main", "creel.main", vehicle.Column(6, COLUMNS[6]))


def test_numbers_are_si(ferry: Study) -> None:
    creel, plover = ferry.mission.elements
    assert (creel.name, plover.name) == ("creel", "plover")
    engine = plover.engines[0]
    # Exact: 66 kN, 25 kg as written.
    assert (engine.thrust_n, engine.start_loss_kg, engine.stop_loss_kg) == (66000.0, 25.0, 0.0)
    tank = plover.tanks[0]
    assert (tank.load_kg, tank.volume_m3, tank.ullage, tank.unusable) == (9000.0, 28.0, 0.04, 0.0)
    leak = creel.tanks[0].liquids
    assert [liquid.role for liquid in leak] == [vehicle.Role.OXIDISER, vehicle.Role.FUEL]
    assert leak[0].heat_leak_w == 90.0
    assert leak[1].heat_leak_w == vehicle.Column(2, COLUMNS[2])
    assert all(liquid.vent_heat_j_kg is not None for liquid in leak)
    assert all(liquid.vent_heat_j_kg is None for liquid in tank.liquids)


def test_requirements_by_name_then_the_supply_of_every_tank_drawn_on(ferry: Study) -> None:
    names = ["burning", "fits", "lifted", "light", "reserve", "soon", "spare"]
    assert [asked.name for asked in ferry.mission.requirements[:-2]] == names
    assert ferry.mission.requirements[-2:] == (
        vehicle.Supply("supply of creel.main", "creel.main"),
        vehicle.Supply("supply of plover.hold", "plover.hold"),
    )
    assert ferry.mission.requirements[4] == vehicle.PropellantLeft("reserve", "plover.hold", 900.0, after="return")
    assert ferry.mission.requirements[5] == vehicle.ElapsedTime("soon", 12 * 86400.0)


def test_mixture_ratio_at_loading_is_the_median_of_the_first_engine(ferry: Study) -> None:
    # Exact: the median of a normal law is its mean.
    assert [tank.load_ratio for element in ferry.mission.elements for tank in element.tanks] == [5.9, 5.9]
    assert any("creel.main is loaded at mixture ratio 5.9, the median of plover.main" in note for note in ferry.notes)
    assert ferry.resolved()["vehicle"]["creel"]["tanks"]["main"]["load_ratio"] == 5.9


def test_mixture_ratio_follows_a_transfer_or_is_the_usual_one() -> None:
    legs = FERRY.partition("options:")[0]
    fed = changed(
        legs,
        ("  - burn: dep", "  - {transfer: top, from: creel.main, to: plover.hold, amount: 5 t}\n  - burn: dep"),
        ("    tank: creel.main\n    cost", "    tank: plover.hold\n    cost"),
        ("mean: 5.9, sd: 0.04", "low: 5, high: 6"),
    )
    assert loads(fed).mission.elements[0].tanks[0].load_ratio == 5.5
    idle = "tanks: {bag: {propellant: lox-lch4, load: 5 kg}}"
    study = loads(changed(LEAST, ("dry_mass: 1 t", f"dry_mass: 1 t, {idle}")))
    # Practice: the usual ratio of the combination's own record.
    assert study.mission.elements[0].tanks[0].load_ratio == 3.6
    assert "usual mixture ratio" in study.notes[0]


def test_dependence_and_what_is_asked(ferry: Study) -> None:
    assert ferry.correlations == (RankCorrelation(COLUMNS[0], COLUMNS[3], 0.4),)
    assert ferry.ask is not None
    assert (ferry.ask.chance, ferry.ask.confidence) == (0.95, 0.9)
    assert loads(LEAST).ask is None
    asked = loads(LEAST + "ask: {chance: 0.95}\n").ask
    assert asked is not None
    assert asked.confidence == 0.9


def test_an_element_that_docks_first_starts_apart() -> None:
    text = changed(
        LEAST,
        ("vehicle: {", "vehicle: {tug: {dry_mass: 2 t}, "),
        ("[{coast", "[{dock: meet, element: tug}, {undock: part, element: tug}, {coast"),
    )
    assert loads(text).mission.apart == {"tug"}
    assert loads(FERRY).mission.apart == frozenset()


def test_a_quite_different_mission() -> None:
    study = loads(ORBITER)
    assert [given.name for given in study.inputs] == ["legs.insertion.cost"]
    assert study.mission.elements[0].tanks[0].load_ratio == 1.65
    left = study.mission.requirements[0]
    assert isinstance(left, vehicle.PropellantLeft)
    assert left.measure is vehicle.Measure.TOTAL


def test_a_monopropellant_takes_a_bare_number() -> None:
    text = changed(
        LEAST, ("dry_mass: 1 t", "dry_mass: 1 t, tanks: {bag: {propellant: hydrazine, load: 5 kg, heat_leak: 0 W}}")
    )
    assert loads(text).mission.elements[0].tanks[0].liquids[0].heat_leak_w == 0.0


LAWS: list[tuple[str, Law]] = [
    ("{mean: 1 t, sd: 10 kg}", Normal(1000.0, 10.0)),
    ("{law: normal, sd: 10 kg, mean: 1000 kg}", Normal(1000.0, 10.0)),
    ("{mean: 1 t, sd: 1 t, at_least: 0.5 t}", TruncatedNormal(1000.0, 1000.0, 500.0, math.inf)),
    ("{mean: 1 t, sd: 1 t, at_least: 0.5 t, at_most: 2 t}", TruncatedNormal(1000.0, 1000.0, 500.0, 2000.0)),
    ("{law: truncated normal, mean: 1 t, sd: 9 kg, at_most: 2 t}", TruncatedNormal(1000.0, 9.0, -math.inf, 2000.0)),
    ("{median: 1 t, spread: 1.2}", Lognormal(1000.0, 1.2)),
    ("{law: lognormal, mean: 1 t, sd: 0.1 t}", Lognormal.from_mean_sd(1000.0, 100.0)),
    ("{low: 1 t, high: 2 t}", Uniform(1000.0, 2000.0)),
    ("{low: 1 t, likely: 1.2 t, high: 2 t}", Pert(1000.0, 1200.0, 2000.0)),
    ("{law: pert, low: 1 t, likely: 1.2 t, high: 2 t, weight: 6}", Pert(1000.0, 1200.0, 2000.0, 6.0)),
    ("{law: triangular, low: 1 t, likely: 1.2 t, high: 2 t}", Triangular(1000.0, 1200.0, 2000.0)),
    ("{values: [1 t, 1.1 t], chances: [75 %, 0.25]}", Discrete((1000.0, 1100.0), (0.75, 0.25))),
    ("{law: data, values: [1, 1.1, 1.3], unit: t}", Empirical((1000.0, 1100.0, 1300.0))),
]  # fmt: skip


@pytest.mark.parametrize(("text", "expected"), LAWS, ids=lambda v: str(v)[:50])
def test_each_shape_of_a_law(text: str, expected: Law) -> None:
    study = loads(changed(LEAST, ("dry_mass: 1 t", f"dry_mass: {text}")))
    assert law(study, "vehicle.stone.dry_mass") == expected
    again = from_mapping(study.resolved())
    assert (again.inputs, again.digest) == (study.inputs, study.digest)


def test_a_law_that_hardly_leaves_its_bounds_is_cut_off_and_said() -> None:
    # Exact: the bound lies 4.9 sd below the mean, Phi(-4.9) = 4.8e-7, below one in a million.
    study = loads(changed(LEAST, ("dry_mass: 1 t", "dry_mass: {mean: 4.9 t, sd: 1 t}")))
    cut = law(study, "vehicle.stone.dry_mass")
    assert isinstance(cut, Clipped)
    assert cut.low > 0.0
    assert "gives 0 kg or less with a chance of 5e-07" in study.notes[0]
    assert from_mapping(study.resolved()).notes == study.notes


@pytest.mark.parametrize(
    ("sd", "kept"),
    # Exact, standard normal tails: Phi(-4.7534) = 1e-6, so 4.74 sd is refused and 4.77 sd is cut off;
    # Phi(-8) = 6.2e-16 is never met and left alone.
    [(4.74, None), (4.77, Clipped), (7.8, Clipped), (8.0, Normal)],
)
def test_one_in_a_million_is_the_line(sd: float, kept: type | None) -> None:
    text = changed(LEAST, ("dry_mass: 1 t", f"dry_mass: {{mean: {sd} t, sd: 1 t}}"))
    if kept is None:
        with pytest.raises(StudyError, match="impossible"):
            loads(text)
    else:
        assert type(law(loads(text), "vehicle.stone.dry_mass")) is kept


def test_a_study_travels_between_processes(ferry: Study) -> None:
    again = pickle.loads(pickle.dumps(ferry))  # noqa: S301 - made on this line
    assert (again.mission, again.inputs, again.digest) == (ferry.mission, ferry.inputs, ferry.digest)


def test_given_mapping_is_not_changed_nor_kept() -> None:
    given = loads(LEAST).resolved()
    study = from_mapping(given)
    given["vehicle"]["stone"]["dry_mass"] = "9 t"
    assert study.with_values({"title": "other"}).mission.elements[0].dry_mass_kg == 1000.0
