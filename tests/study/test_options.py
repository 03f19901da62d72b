"""Values replaced by their places: options of a study, and values given beside it."""

from __future__ import annotations

from typing import Any

import pytest

from leadline import vehicle
from leadline.errors import Issue, StudyError
from leadline.sampling import Normal
from leadline.study import Study, from_mapping, loads
from study.documents import FERRY, LEAST, changed, issues_of, law, refused


@pytest.fixture(scope="module")
def ferry() -> Study:
    return loads(FERRY)


def refused_values(study: Study, values: dict[str, Any]) -> Issue:
    with pytest.raises(StudyError) as caught:
        study.with_values(values)
    assert len(caught.value.issues) == 1, str(caught.value)
    return caught.value.issues[0]


def test_an_option_inherits_what_it_does_not_replace(ferry: Study) -> None:
    bare = ferry.with_option("no creel")
    assert (ferry.options, bare.option, bare.title) == (("no creel", "lighter"), "no creel", ferry.title)
    assert [element.name for element in bare.mission.elements] == ["plover"]
    assert [leg.name for leg in bare.mission.legs] == ["departure", "outbound", "return"]
    burn = bare.mission.legs[0]
    assert isinstance(burn, vehicle.Burn)
    assert burn.tank == "plover.hold"
    assert law(bare, "vehicle.plover.dry_mass") == law(ferry, "vehicle.plover.dry_mass")
    assert bare.correlations == ()
    assert ferry.option is None


def test_an_option_takes_a_law_away(ferry: Study) -> None:
    lighter = ferry.with_option("lighter")
    assert "vehicle.plover.dry_mass" not in [given.name for given in lighter.inputs]
    assert lighter.mission.elements[1].dry_mass_kg == 17000.0
    assert lighter.digest != ferry.digest


def test_the_resolved_option_is_itself(ferry: Study) -> None:
    bare = ferry.with_option("no creel")
    again = from_mapping(bare.resolved())
    assert (again.digest, again.mission, again.option) == (bare.digest, bare.mission, "no creel")


def test_an_option_of_an_option_starts_from_it(ferry: Study) -> None:
    both = ferry.with_option("no creel").with_values({"plover.dry_mass": "17 t"})
    assert (both.option, both.mission.elements[0].dry_mass_kg) == ("no creel", 17000.0)


def test_values_are_read_as_in_a_study(ferry: Study) -> None:
    study = ferry.with_values(
        {
            "plover.dry_mass.mean": "19 t",
            "legs.departure.cost": "{mean: 3.2 km/s, sd: 10 m/s}",
            "legs.outbound": {"coast": "outbound", "lasts": "90 h"},
            "requirements.soon.elapsed.at_most": "13 d",
            "vehicle.plover.engines.main.mixture_ratio": 6,
            "plover.tanks.hold.unusable": "0.02",
            "requirements.light": None,
        }
    )
    assert law(study, "vehicle.plover.dry_mass") == Normal(19000.0, 500.0)
    assert law(study, "legs.departure.cost") == Normal(3200.0, 10.0)
    assert study.mission.legs[3] == vehicle.Coast("outbound", 90 * 3600.0)
    assert study.mission.elements[1].engines[0].mixture_ratio == 6.0
    assert study.mission.elements[1].tanks[0].unusable == 0.02
    assert "light" not in [r.name for r in study.mission.requirements]
    assert any(isinstance(r, vehicle.ElapsedTime) and r.at_most_s == 13 * 86400.0 for r in study.mission.requirements)


def test_the_whole_of_a_part_may_be_replaced_and_a_value_in_it(ferry: Study) -> None:
    study = ferry.with_values(
        {"plover.dry_mass": "16 t", "vehicle.plover": "{dry_mass: 1 t, engines: {main: {isp: 440 s, mixture_ratio: 6, "
         "thrust: 5 kN}}, tanks: {hold: {propellant: lox-lh2, load: 9 t}}}", "dependence": None}
    )  # fmt: skip
    assert study.mission.elements[1].dry_mass_kg == 16000.0
    assert study.mission.elements[1].engines[0].isp_s == 440.0


def test_the_list_of_legs_may_be_replaced() -> None:
    study = loads(LEAST).with_values({"legs": "[{coast: a, lasts: 1 h}, {coast: b, lasts: 2 h}]"})
    assert [leg.name for leg in study.mission.legs] == ["a", "b"]


def test_an_entry_may_be_added(ferry: Study) -> None:
    study = ferry.with_values(
        {"requirements.more": "{fill: plover.hold}", "plover.tanks.hold.boil_off": "{fuel: 1 %/d}"}
    )
    assert any(r.name == "more" for r in study.mission.requirements)


@pytest.mark.parametrize(
    ("values", "path", "code", "remedy"),
    [
        ({"plover.dry_mas": "1 t"}, ("plover.dry_mas",), "unknown-key", "dry_mass"),
        ({"plover.dry_mass.mean": "1 kt"}, ("plover.dry_mass.mean",), "ambiguous-unit", "kg, t"),
        ({"plover.dry_mass": "{mean: 1 t}"}, ("plover.dry_mass",), "missing-key", "mean, sd"),
        ({"plower.dry_mass": "1 t"}, ("plower.dry_mass",), "unknown-place", '"plover"'),
        ({"legs.departur.cost": "1 m/s"}, ("legs.departur.cost",), "unknown-place", '"departure"'),
        ({"legs.new": "{coast: new, lasts: 1 h}"}, ("legs.new",), "unknown-place", "fill, departure"),
        ({"requirements.nothing": None}, ("requirements.nothing",), "unknown-place", "reserve"),
        ({"leadline": 2}, ("leadline",), "unknown-place", "title"),
        ({"options.lighter": None}, ("options.lighter",), "unknown-place", "title"),
        ({"plover.dry_mass.mean.more": 1}, ("plover.dry_mass.mean.more",), "unknown-place", "none"),
        ({"titel": "x"}, ("titel",), "unknown-place", 'mean "title"'),
        ({"": "1 t"}, ("",), "unknown-place", "plover"),
        ({"title": "[1"}, ("title",), "syntax", "brackets"),
        ({"title": "{a: 1, a: 2}"}, ("title", "a"), "duplicate-key", "Keep one"),
        ({"title": object()}, ("title",), "type", "Write a text"),
        ({"creel.tanks.main.volume": None}, ("requirements", "fits", "fill"), "no-volume", "170 m3"),
    ],
)
def test_values_that_do_not_fit(
    ferry: Study, values: dict[str, Any], path: tuple[str, ...], code: str, remedy: str
) -> None:
    issue = refused_values(ferry, values)
    assert (issue.path, issue.code) == (path, code)
    assert remedy in issue.remedy


def test_all_values_that_do_not_fit_are_named_at_once(ferry: Study) -> None:
    with pytest.raises(StudyError) as caught:
        ferry.with_values(
            {"plover.dry_mass.sd": "1 s", "legs.return.cost": "-1 m/s", "requirements.soon.after": "never"}
        )
    assert {issue.path for issue in caught.value.issues} == {
        ("plover.dry_mass.sd",), ("legs.return.cost",), ("requirements.soon.after",)
    }  # fmt: skip


def test_an_option_that_does_not_exist(ferry: Study) -> None:
    with pytest.raises(StudyError) as caught:
        ferry.with_option("ligther")
    assert caught.value.issues[0].remedy == 'Did you mean "lighter"? Options: no creel, lighter.'


@pytest.mark.parametrize(
    ("old", "new", "path", "code"),
    [
        ("vehicle.creel: null", "vehicle.crel: null", ("options", "no creel", "vehicle.crel"), "unknown-place"),
        ("plover.dry_mass: 17 t", "plover.dry_mass: 17", ("options", "lighter", "plover.dry_mass"), "missing-unit"),
        ("legs.let go: null\n    ", "", ("options", "no creel"), "unknown-element"),
        ("requirements.fits: null\n    ", "", ("options", "no creel"), "unknown-tank"),
        ("lighter: {plover.dry_mass: 17 t, dependence: null}", "lighter: {}", ("options", "lighter"), "too-few"),
        ("{plover.dry_mass: 17 t, dependence: null}", "17 t", ("options", "lighter"), "not-a-mapping"),
        ("dependence: null}", "dependence: null, title: 5}", ("options", "lighter", "title"), "not-a-text"),
        (", dependence: null}", "}", ("options", "lighter"), "fixed-number"),
    ],
)  # fmt: skip
def test_options_are_checked_when_the_study_is_loaded(old: str, new: str, path: tuple[str, ...], code: str) -> None:
    issue = refused(changed(FERRY, (old, new)))
    assert (issue.path, issue.code) == (path, code)
    assert issue.line is not None
    assert issue.line > 51


def test_what_is_wrong_in_the_study_itself_is_not_said_again_for_its_options() -> None:
    issues = issues_of(changed(FERRY, ("cost: 450 m/s", "cost: 450 t"), ("ullage: 4 %", "ullage: 4 t")))
    assert [issue.path[0] for issue in issues] == ["vehicle", "legs"]


def test_what_an_alias_repeats_is_replaced_in_one_place_only() -> None:
    text = changed(
        FERRY,
        ("dry_mass: {mean: 18.4 t, sd: 0.5 t}", "dry_mass: &about {mean: 18.4 t, sd: 0.5 t}"),
        ("dry_mass: {low: 5.4 t, likely: 5.9 t, high: 7.1 t}", "dry_mass: *about"),
    )
    heavier = loads(text).with_values({"creel.dry_mass.mean": "9 t"})
    assert law(heavier, "vehicle.creel.dry_mass") == Normal(9_000.0, 500.0)
    assert law(heavier, "vehicle.plover.dry_mass") == Normal(18_400.0, 500.0)
