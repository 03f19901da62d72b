"""What `check` and `run` say of practice laws, of kinds of not knowing and of mass budgets."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner, Result

from leadline.cli.application import build
from leadline.cli.exits import ExitCode
from leadline.run.engine import run_study
from leadline.study import Study, loads
from run.ferries import FERRY
from study.documents import changed

Command = Callable[..., Result]

BUDGET = "{best: 9 t, growth: 10 %, allowable: 10.2 t}"
MARKED = changed(
    FERRY,
    ("isp: {mean: 316 s, sd: 1 s}", "isp: {practice: isp of a new engine, nominal: 316 s}"),
    (
        "dry_mass: {mean: 10 t, sd: 0.2 t}",
        f"dry_mass: {{mean: 10 t, sd: 0.2 t, kind: knowledge}}\n    mass_budget: {BUDGET}",
    ),
)
ISP = "vehicle.ferry.engines.main.isp"


@pytest.fixture
def study(tmp_path: Path) -> str:
    path = tmp_path / "marked.yaml"
    path.write_text(MARKED)
    return str(path)


@pytest.fixture
def leadline(monkeypatch: pytest.MonkeyPatch) -> Command:
    """Run the command line in this process."""
    monkeypatch.setenv("COLUMNS", "200")
    return lambda *words: CliRunner().invoke(build(), [str(word) for word in words])


def checked(leadline: Command, study: str) -> dict[str, Any]:
    result = leadline("check", study, "--json")
    assert result.exit_code == ExitCode.OK
    found: dict[str, Any] = json.loads(result.stdout)
    return found


def test_check_lists_what_rests_on_practice(leadline: Command, study: str) -> None:
    said = leadline("check", study).stdout
    # Exact: 0.5 % of 316 s.
    assert f"{ISP}: isp of a new engine (normal: mean 316, sd 1.58)" in said
    assert "from memory (trade practice, no source)" in said
    assert f'{ISP} rests on the practice law "isp of a new engine": trade practice, no source.' in said
    (one,) = checked(leadline, study)["practice"]
    assert one["law"] == {"law": "normal", "mean": 316.0, "sd": 1.58}
    assert (one["name"], one["standing"]) == (ISP, "trade practice, no source")
    assert one["source"] in checked(leadline, study)["sources"]


def test_check_prints_the_kind_of_every_number_where_some_are_knowledge(leadline: Command, study: str) -> None:
    lines = leadline("check", study).stdout.splitlines()
    (mass,) = [line for line in lines if line.startswith("  vehicle.ferry.dry_mass ")]
    assert mass.endswith("knowledge")
    (isp,) = [line for line in lines if line.startswith(f"  {ISP}  ")]
    assert isp.endswith("flight")
    kinds = {each["name"]: (each["kind"], each["practice"]) for each in checked(leadline, study)["inputs"]}
    assert kinds["vehicle.ferry.dry_mass"] == ("knowledge", None)
    assert kinds[ISP] == ("flight", "isp of a new engine")


def test_check_shows_the_mass_budget_under_every_definition(leadline: Command, study: str) -> None:
    said = leadline("check", study).stdout
    # Exact: B 9, P 9.9, A 10.2 t: 0.3/9, 0.3/9.9, 1.2/10.2, 1.2/9; one sd of the normal law above and half below.
    assert "best estimate 9 t + growth 900 kg (10 %) = predicted 9.9 t; allowable 10.2 t, so 300 kg are left" in said
    for margin in (
        "3.333 %  margin over the best estimate      (allowable - predicted) / best estimate",
        "3.03 %  margin over the predicted mass     (allowable - predicted) / predicted",
        "11.76 %  reserve within the allowable mass  (allowable - best estimate) / allowable",
        "13.33 %  reserve over the best estimate     (allowable - best estimate) / best estimate",
    ):
        assert margin in said
    assert "the chance of at most 10.2 t is 84.1 %; of at most the predicted 9.9 t it is 30.9 %" in said
    assert "(second-hand)" in said
    (budget,) = checked(leadline, study)["mass_budgets"]
    assert budget["element"] == "ferry"
    assert [one["value"] for one in budget["margins"]] == pytest.approx([1 / 30, 1 / 33, 2 / 17, 2 / 15], rel=1e-12)
    # Exact: Phi(1) and Phi(-1/2).
    assert budget["chance_within_allowable"] == pytest.approx(0.841344746068543, abs=1e-12)
    assert budget["chance_within_predicted"] == pytest.approx(0.308537538725987, abs=1e-12)


def test_a_fixed_dry_mass_has_no_chance_beside_its_budget(leadline: Command, study: str) -> None:
    said = leadline("check", study, "--set", "ferry.dry_mass=10 t").stdout
    assert "Its dry mass is one fixed number, so no chance stands beside them." in said


def test_maturity_gives_the_growth_and_its_source(leadline: Command, study: str) -> None:
    words = ("--set", "ferry.mass_budget={best: 9 t, maturity: critical, allowable: 9.9 t}")
    assert "growth 360 kg (4 % at maturity critical) = predicted 9.36 t" in leadline("check", study, *words).stdout
    found = json.loads(leadline("check", study, "--json", *words).stdout)
    assert found["resolved"]["vehicle"]["ferry"]["mass_budget"]["growth"] == 0.04
    assert any("drawings released, 4 %" in source for source in found["sources"])


def test_without_marks_nothing_is_said_of_them(leadline: Command, tmp_path: Path) -> None:
    path = tmp_path / "plain.yaml"
    path.write_text(FERRY)
    said = leadline("check", path).stdout
    assert not any(word in said for word in ("practice law", "knowledge", "Mass budget"))
    found = checked(leadline, str(path))
    assert (found["practice"], found["mass_budgets"]) == ([], [])


@pytest.fixture(scope="module")
def marked() -> Study:
    return loads(MARKED)


def test_a_result_carries_notes_sources_kinds_and_budgets(marked: Study) -> None:
    result = run_study(marked, cases=1000)
    assert any(f"{ISP} rests on the practice law" in note for note in result.notes)
    assert any("Specific impulse of one engine" in source for source in result.sources)
    assert any("GSFC-STD-1000 revision H" in source for source in result.sources)
    kinds = {each.name: each.kind for each in result.inputs}
    assert kinds["vehicle.ferry.dry_mass"] == "knowledge"
    (budget,) = result.mass_budgets
    assert (budget.element, budget.predicted_kg) == ("ferry", 9900.0)


def test_a_mass_budget_changes_no_draw_and_no_margin(marked: Study) -> None:
    without = marked.with_values({"ferry.mass_budget": None})
    both = [run_study(study, cases=1000) for study in (marked, without)]
    assert both[0].requirements == both[1].requirements
    assert both[1].mass_budgets == ()


def test_units_are_told_from_names(marked: Study) -> None:
    result = run_study(marked.with_values({"ferry.engines.main.mixture_ratio": RATIO}), cases=1000)
    units = {each.name: each.unit for each in result.inputs}
    assert units["vehicle.ferry.engines.main.mixture_ratio"] == ""
    assert units[ISP] == "s"


RATIO = "{practice: mixture ratio with utilisation control, nominal: 6}"


def test_the_report_shows_the_marks_and_the_budget(marked: Study) -> None:
    from leadline.report import render_report

    page = render_report(run_study(marked, cases=1000))
    assert "practice: isp of a new engine" in page
    assert "knowledge" in page
    assert "margin over the predicted mass" in page
    assert "(allowable - predicted) / predicted" in page
    assert "84.1" in page
