"""Every refusal by hand: where it points, what it says, what it tells to write."""

from __future__ import annotations

from pathlib import Path
from typing import Any, Final

import pytest
import yaml
from pydantic import ValidationError
from pydantic_core import InitErrorDetails

from leadline.study.document import StudyDocument
from leadline.study.messages import issues_of as issues_of_pydantic
from study.documents import FERRY, LEAST, changed, issues_of, refused

CASES: Final[list[dict[str, Any]]] = [
    case
    for path in sorted(Path(__file__).parent.glob("refusals*.yaml"))
    for case in yaml.safe_load(path.read_text(encoding="utf-8"))
]
CREEL: Final = ("vehicle", "creel")


@pytest.mark.parametrize("case", CASES, ids=range(len(CASES)))
def test_says_where_what_and_how(case: dict[str, Any]) -> None:
    text = changed(FERRY, (case["old"], case["new"]))
    found = [i for i in issues_of(text) if list(i.path) == case["path"] and i.code == case["code"]]
    assert found, [str(issue) for issue in issues_of(text)]
    assert case["message"] in found[0].message
    assert case["remedy"] in found[0].remedy
    assert text.count(case["at"]) == 1
    before = text[: text.index(case["at"])]
    assert (found[0].line, found[0].column) == (before.count("\n") + 1, len(before) - before.rfind("\n"))


def test_everything_is_said_at_once_and_in_the_order_of_the_document() -> None:
    text = changed(
        FERRY,
        ("chance: 95 %", "chance: 950 %"),
        ("thrust: 66 kN", "thrst: 66 kN"),
        ("load: 39 t", "load: 39 kt"),
        ("tank: creel.main", "tank: crel.main"),
        ("after: return", "after: retrun"),
        ("rank: 0.4", "rank: 4"),
    )
    issues = issues_of(text)
    assert [issue.line for issue in issues] == [5, 12, 22, 28, 42, 50]
    assert {issue.code for issue in issues} >= {"out-of-bounds", "unknown-key", "ambiguous-unit", "unknown-leg"}


def test_a_part_that_cannot_be_read_is_not_called_unknown() -> None:
    issues = issues_of(changed(FERRY, ("dry_mass: {low: 5.4 t", "dry_mass: {low: 5.4 kt")))
    assert [issue.path for issue in issues] == [(*CREEL, "dry_mass", "low")]


def test_a_leg_that_cannot_be_read_leaves_the_formation_in_doubt() -> None:
    # With the drop unread, nobody can say that the creel is still there or not.
    issues = issues_of(changed(FERRY, ("element: creel", "elemnt: creel")))
    assert {issue.path[:2] for issue in issues} == {("legs", 2)}


def test_undocked_twice_docked_twice_and_moved_when_apart() -> None:
    text = changed(
        LEAST, ("{coast: drift, lasts: 1 d}", "{undock: off, element: stone}, {undock: again, element: stone}")
    )
    assert refused(text).code == "apart"
    text = changed(LEAST, ("{coast: drift, lasts: 1 d}", "{dock: on, element: stone}, {dock: again, element: stone}"))
    assert refused(text).code == "docked"
    text = changed(LEAST, ("{coast: drift, lasts: 1 d}", "{drop: off, element: stone}, {dock: again, element: stone}"))
    assert refused(text).code == "dropped"


def test_transfer_between_what_does_not_fit() -> None:
    leg = "  - {transfer: top up, from: creel.main, to: plover.hold, amount: 1 t}\n"
    sound = changed(FERRY.partition("options:")[0], ("  - drop: let go", f"{leg}  - drop: let go"))
    assert issues_of(sound) == ()
    same = changed(sound, ("to: plover.hold, amount", "to: creel.main, amount"))
    assert refused(same).path == ("legs", 2, "to")
    other = changed(sound, ("hold: {propellant: lox-lh2", "hold: {propellant: lox-lch4"))
    assert {issue.code for issue in issues_of(other) if issue.path == ("legs", 2, "to")} == {"propellants"}


def test_liquids_of_a_monopropellant() -> None:
    tank = "dry_mass: 1 t, engines: {jet: {isp: 220 s}}, tanks: {bag: {propellant: hydrazine, load: 90 kg%s}}"
    legs = "{burn: kick, engine: stone.jet, tank: stone.bag, cost: 5 m/s}"
    sound = changed(LEAST, ("dry_mass: 1 t", tank % ""), ("{coast: drift, lasts: 1 d}", legs))
    assert issues_of(sound) == ()
    assert refused(changed(sound, ("load: 90 kg", "load: 90 kg, load_ratio: 2"))).code == "mixture-ratio"
    assert refused(changed(sound, ("load: 90 kg", "load: 90 kg, heat_leak: {oxidiser: 5 W}"))).code == "no-oxidiser"
    assert refused(changed(sound, ("load: 90 kg", "load: 90 kg, heat_leak: 5 W"))).code == "storable"
    assert refused(changed(sound, ("isp: 220 s", "isp: 220 s, mixture_ratio: 2"))).code == "mixture-ratio"
    asked = changed(sound, ("{stack_mass: {at_most: 2 t}}", "{propellant: stone.bag, at_least: 1 kg, count: oxidiser}"))
    assert refused(asked).code == "no-oxidiser"


def test_impossible_correlations_name_the_pair_to_relax() -> None:
    pairs = (
        "[plover.dry_mass, creel.dry_mass], rank: 0.9}\n  - {between: [creel.dry_mass, legs.departure.cost], rank: 0.9}"
    )
    third = "\n  - {between: [legs.departure.cost, plover.dry_mass], rank: -0.9}"
    issue = refused(changed(FERRY, ("[plover.dry_mass, creel.dry_mass], rank: 0.4}", pairs + third)))
    assert issue.code == "dependence"
    assert issue.path[0] == "dependence"
    assert issue.line in {50, 51, 52}


@pytest.mark.parametrize("key", ["<<", "plover_", ""])
def test_unknown_keys_at_the_top(key: str) -> None:
    issue = refused(FERRY + f'"{key}": 1\n')
    assert (issue.code, issue.path, issue.line) == ("unknown-key", (key,), len(FERRY.splitlines()) + 1)
    assert issue.remedy


def test_what_nobody_thought_of_is_still_said_in_our_words() -> None:
    details = InitErrorDetails(type="date_type", loc=("vehicle", "plover", "dry_mass"), input=5)
    error = ValidationError.from_exception_data("study", [details])
    (issue,) = issues_of_pydantic(error, StudyDocument)
    assert (issue.path, issue.code) == (("vehicle", "plover", "dry_mass"), "value")
    assert "dry_mass: 18.4 t" in issue.remedy
