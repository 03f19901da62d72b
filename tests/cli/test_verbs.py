"""The verbs: what they print, what they write, and the codes they end with."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner, Result

from conftest import need
from leadline.cli.application import build
from leadline.cli.exits import ExitCode
from leadline.cli.reports import Reports
from leadline.run import dask_executor
from leadline.run.answer_files import Answers
from leadline.run.result import CompareResult
from run.ferries import BLOCK, FERRY

Command = Callable[..., Result]


def write_sentence(made: Answers | CompareResult, path: Path) -> None:
    path.write_text(made.sentence)


@pytest.fixture
def study(tmp_path: Path) -> str:
    path = tmp_path / "ferry.yaml"
    path.write_text(FERRY)
    return str(path)


@pytest.fixture
def leadline(monkeypatch: pytest.MonkeyPatch) -> Command:
    """Run the command line in this process; reports are a line of text."""
    monkeypatch.setenv("COLUMNS", "200")
    reports = Reports(write_sentence, write_sentence)

    def run(*words: object, reports: Reports = reports) -> Result:
        return CliRunner().invoke(build(), [str(word) for word in words], obj=reports)

    return run


def document(result: Result) -> dict[str, Any]:
    found = json.loads(result.stdout)
    assert isinstance(found, dict)
    return found


def test_check_prints_inputs_legs_and_the_median_case(leadline: Command, study: str) -> None:
    result = leadline("check", study)
    assert result.exit_code == ExitCode.OK
    for said in ("vehicle.ferry.dry_mass", "normal: mean 10000, sd 200", "out (burn)", "reserve", "The case succeeds"):
        assert said in result.stdout
    assert document(leadline("check", study, "--json"))["kind"] == "check"


def test_run_prints_the_sentence_first(leadline: Command, study: str) -> None:
    result = leadline("run", study, "--cases", BLOCK)
    assert result.exit_code == ExitCode.OK
    first = result.stdout.splitlines()[0]
    assert first.startswith("A ferry out and back: the chance that every requirement is met is ")
    for said in ("reserve", "light enough", "What fails first:", "Shown:", "16 384 cases, 0 of them invalid; seed 0"):
        assert said in result.stdout
    assert result.stderr == ""


def test_run_json_is_one_document(leadline: Command, study: str) -> None:
    found = document(leadline("run", study, "--cases", BLOCK, "--json"))
    assert found["kind"] == "result"
    assert found["cases"]["total"] == BLOCK
    assert document(leadline("run", study, "--cases", BLOCK, "--json", "--seed", 1))["cases"] != found["cases"]


def test_run_takes_design_option_and_values(leadline: Command, study: str) -> None:
    lighter = document(leadline("run", study, "--option", "light", "--design", "sobol", "--cases", 5_000, "--json"))
    assert (lighter["study"]["option"], lighter["design"]) == ("light", "sobol")
    assert lighter["cases"]["total"] == 8_192  # exact: two blocks of 4 096
    heavy = document(leadline("run", study, "--set", "vehicle.ferry.dry_mass=12 t", "--cases", 100, "--json"))
    assert heavy["cases"]["succeeded"] == 0
    law = "vehicle.ferry.dry_mass={mean: 9 t, sd: 0.1 t}"
    assert document(leadline("run", study, "--set", law, "--cases", 100, "--json"))["chance"]["value"] > 0.9


def test_run_until(leadline: Command, study: str) -> None:
    found = document(leadline("run", study, "--until", "0.3 %", "--json"))
    assert (found["chance"]["high"] - found["chance"]["low"]) / 2 <= 0.003
    assert found["cases"]["total"] == 4 * BLOCK  # exact: the first checkpoint is enough


def test_run_out_writes_and_goes_on(leadline: Command, study: str, tmp_path: Path) -> None:
    out = tmp_path / "out"
    result = leadline("run", study, "--cases", 40_000, "--out", out)
    assert result.exit_code == ExitCode.OK
    assert str(out / "result.json") in result.stderr
    assert (out / "report.html").read_text() in result.stdout
    further = leadline("run", study, "--cases", 60_000, "--out", out, "--json", "--quiet")
    assert further.stdout == leadline("run", study, "--cases", 60_000, "--json").stdout
    assert further.stdout == (out / "result.json").read_text()
    assert further.stderr == ""
    refused = leadline("run", study, "--cases", 1_000, "--out", out, "--seed", 1)
    assert refused.exit_code == ExitCode.RUN_FAILED
    assert "--replace" in refused.stderr
    assert leadline("run", study, "--cases", 1_000, "--out", out, "--seed", 1, "--replace").exit_code == ExitCode.OK


def test_run_says_when_no_report_can_be_drawn(leadline: Command, study: str, tmp_path: Path) -> None:
    result = leadline("run", study, "--cases", 100, "--out", tmp_path / "out", reports=Reports())
    assert result.exit_code == ExitCode.OK
    assert "no report: install leadline[report]" in result.stderr
    assert not (tmp_path / "out" / "report.html").exists()


def test_run_keeps_cases(leadline: Command, study: str, tmp_path: Path) -> None:
    parquet = need("pyarrow.parquet")
    out = tmp_path / "out"
    assert leadline("run", study, "--cases", 40_000, "--out", out, "--keep-cases").exit_code == ExitCode.OK
    assert leadline("run", study, "--cases", 20_000, "--out", out, "--keep-cases").exit_code == ExitCode.OK
    assert parquet.read_table(out / "cases").num_rows == 20_000  # exact: what the longer run had more is gone


@pytest.mark.parametrize(
    ("asked", "code"), [("50 %", ExitCode.OK), ("99.9 %", ExitCode.CHANCE_NOT_MET)], ids=["shown", "not shown"]
)
def test_judge_ends_by_the_verdict(leadline: Command, study: str, asked: str, code: ExitCode) -> None:
    words = ("run", study, "--cases", BLOCK, "--set", f"ask.chance={asked}")
    assert leadline(*words, "--judge").exit_code == code
    assert leadline(*words).exit_code == ExitCode.OK


def test_replay_shows_the_case(leadline: Command, study: str) -> None:
    result = leadline("replay", study, "--case", 17, "--seed", 3)
    assert result.exit_code == ExitCode.OK
    assert "Case 17 of the run with seed 3" in result.stdout
    assert "back (burn)" in result.stdout
    found = document(leadline("replay", study, "--case", 17, "--seed", 3, "--json"))
    assert (found["kind"], found["case"], found["seed"]) == ("case", 17, 3)


def test_compare_sets_options_side_by_side(leadline: Command, study: str, tmp_path: Path) -> None:
    result = leadline("compare", study, "--cases", BLOCK, "--out", tmp_path / "out")
    assert result.exit_code == ExitCode.OK
    assert "base study" in result.stdout
    assert "light" in result.stdout
    assert (tmp_path / "out" / "comparison.html").exists()
    again = leadline("compare", study, "--cases", BLOCK, "--out", tmp_path / "out")
    assert again.exit_code == ExitCode.RUN_FAILED
    found = document(leadline("compare", study, "--cases", BLOCK, "--option", "light", "--json"))
    assert [row["name"] for row in found["options"]] == [None, "light"]


def test_schema_is_a_json_schema(leadline: Command) -> None:
    found = document(leadline("schema"))
    assert {"title", "vehicle", "legs", "requirements"} <= set(found["properties"])


def test_version(leadline: Command) -> None:
    assert leadline("--version").stdout.strip() == "0.1.0"


@pytest.mark.parametrize(
    "words",
    [
        ("run", "nowhere.yaml"),
        ("run", "STUDY", "--cases", "0"),
        ("run", "STUDY", "--until", "soon"),
        ("run", "STUDY", "--until", "0 %"),
        ("run", "STUDY", "--keep-cases"),
        ("run", "STUDY", "--set", "no equals"),
        ("run", "STUDY", "--workers", "1", "--threads", "1"),
        ("run", "STUDY", "--scheduler", "somewhere"),
        ("run", "STUDY", "--design", "guess"),
        ("replay", "STUDY"),
        ("fly", "STUDY"),
    ],
    ids=" ".join,
)
def test_usage_errors(leadline: Command, study: str, words: tuple[str, ...]) -> None:
    result = leadline(*(study if word == "STUDY" else word for word in words))
    assert result.exit_code == ExitCode.USAGE
    assert result.stdout == ""
    assert "Error" in result.stderr


def test_an_unusable_study_is_told_with_every_issue(leadline: Command, tmp_path: Path) -> None:
    path = tmp_path / "bad.yaml"
    path.write_text(FERRY.replace("10 t", "-10 t").replace("cost:", "costs:"))
    result = leadline("run", path, "--json")
    assert result.exit_code == ExitCode.STUDY_INVALID
    issues = document(result)["issues"]
    assert len(issues) >= 2
    assert all(issue["remedy"] for issue in issues)
    assert "line " in result.stderr
    assert "Traceback" not in result.stderr


def test_an_unknown_option_is_told(leadline: Command, study: str) -> None:
    result = leadline("run", study, "--option", "lihgt")
    assert result.exit_code == ExitCode.STUDY_INVALID
    assert "light" in result.stderr


def test_a_scheduler_out_of_reach(leadline: Command, study: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(dask_executor, "ANSWER_WITHIN_S", 0.3)
    result = leadline("run", study, "--scheduler", "tcp://127.0.0.1:1")
    assert result.exit_code == ExitCode.OUT_OF_REACH
    assert "No scheduler answered at tcp://127.0.0.1:1 within 0.3 s" in result.stderr


def test_interrupted_before_anything(leadline: Command, study: str, monkeypatch: pytest.MonkeyPatch) -> None:
    def interrupted(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("leadline.run.engine.compute", interrupted)
    result = leadline("run", study)
    assert result.exit_code == ExitCode.INTERRUPTED
    assert "Interrupted" in result.stderr


def test_something_unexpected(leadline: Command, study: str, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object, **__: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr("leadline.run.engine.compute", broken)
    result = leadline("run", study)
    assert result.exit_code == ExitCode.UNEXPECTED
    assert isinstance(result.exception, ZeroDivisionError)


def test_serve_without_the_service(leadline: Command, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("leadline.cli.serve.entry_points", lambda **_: ())
    result = leadline("serve", "--port", "1")
    assert result.exit_code == ExitCode.USAGE
    assert "install leadline[service]" in result.stderr


def test_serve_hands_its_options_on(leadline: Command, monkeypatch: pytest.MonkeyPatch) -> None:
    given: list[int] = []

    def verb(port: int = 0) -> None:
        given.append(port)

    class Found:
        @staticmethod
        def load() -> Callable[[int], None]:
            return verb

    monkeypatch.setattr("leadline.cli.serve.entry_points", lambda **_: (Found,))
    assert leadline("serve", "--port", "8123").exit_code == ExitCode.OK
    assert given == [8123]
    assert "--port" in leadline("serve", "--help").stdout


def test_help_names_verbs_and_exit_codes(leadline: Command) -> None:
    said = " ".join(leadline("--help").stdout.split())
    for verb in ("check", "run", "replay", "compare", "schema", "serve"):
        assert verb in said
    for code in ExitCode:
        assert f"{code.value} " in said
