"""The verbs that answer about risk: what they print and write, how they stop, and the codes they end with."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner, Result

from leadline.cli.application import build
from leadline.cli.exits import ExitCode
from leadline.cli.reports import Reports
from leadline.cli.size import PreferWord
from leadline.risk.sizing import Prefer
from leadline.run.answer_files import Answers
from leadline.run.engine import Control, Progress
from run.ferries import BLOCK, FERRY
from run.hopper import HOPPER

Command = Callable[..., Result]

PROGRAM = (sys.executable, "-m", "leadline")
LOAD = "hopper.tanks.hold.load"
QUICK = ("--cases", "4000")


def write_kinds(answers: Answers, path: Path) -> None:
    path.write_text(" ".join(each.kind for each in answers.every))


@pytest.fixture
def study(tmp_path: Path) -> str:
    path = tmp_path / "hopper.yaml"
    path.write_text(HOPPER)
    return str(path)


@pytest.fixture
def leadline(monkeypatch: pytest.MonkeyPatch) -> Command:
    """Run the command line in this process; a report is the kinds of the documents it is made of."""
    monkeypatch.setenv("COLUMNS", "200")
    return lambda *words: CliRunner().invoke(build(), [str(word) for word in words], obj=Reports(write_kinds))


def document(result: Result) -> dict[str, Any]:
    assert result.exit_code == ExitCode.OK, result.stderr
    found = json.loads(result.stdout)
    assert isinstance(found, dict)
    return found


def test_drivers_says_the_sentence_then_what_each_change_buys(leadline: Command, study: str) -> None:
    result = leadline("drivers", study, "--cases", "20000", "--shapley")
    assert result.exit_code == ExitCode.OK
    lines = result.stdout.splitlines()
    assert lines[0].startswith("A hop with one burn: the chance that every requirement is met is ")
    assert "halving the spread of the dry mass of hopper buys +" in lines[0]
    for said in (
        "What each change buys, on the same draws:",
        "fixing the dry mass of hopper at its middle",
        "3 further changes make no difference that the cases can show.",
        "Drivers of failing any requirement:",
        "Largest drivers of each margin",
        "the dry mass of hopper is higher",
        "Shapley effects on failing any requirement",
    ):
        assert said in result.stdout
    assert result.stderr == ""


def test_drivers_json_is_one_document(leadline: Command, study: str) -> None:
    found = document(leadline("drivers", study, *QUICK, "--seed", "2", "--json"))
    assert (found["kind"], found["seed"], found["buy_down_cases"]) == ("drivers", 2, 4000)
    assert found["cases"] == BLOCK  # exact: pairs come in whole pages
    option = document(leadline("drivers", study, *QUICK, "--set", "hopper.dry_mass=10 t", "--json"))
    assert {row["input"] for row in option["buy_down"]} == {"legs.wait.lasts", "requirements.reserve.at_least"}


def test_size_finds_the_value(leadline: Command, study: str) -> None:
    words = ("size", study, LOAD, "--from", "7 t", "--to", "9 t", "--chance", "95 %", "--confidence", "80 %", *QUICK)
    result = leadline(*words)
    assert result.exit_code == ExitCode.OK
    assert result.stdout.startswith("A hop with one burn: the load of hopper.hold must be at least 7.9")
    assert "for 95 % with 80 % confidence" in result.stdout
    assert "fails most" in result.stdout
    found = document(leadline(*words, "--json"))
    assert (found["kind"], found["asked"], found["confidence"], found["low"]) == ("sizing", 0.95, 0.8, 7_000.0)
    largest = document(leadline("size", study, "hopper.dry_mass", "--prefer", "largest", *QUICK, "--json"))
    assert largest["answer"] == largest["met"][-1][1]
    assert [word.value for word in PreferWord] == [prefer.value for prefer in Prefer]


def test_sweep_over_one_number_and_two(leadline: Command, study: str) -> None:
    one = leadline("sweep", study, "--over", f"{LOAD}=7.5 t..8.5 t", "--steps", "5", *QUICK)
    assert one.exit_code == ExitCode.OK
    assert "the load of hopper.hold from 7.5 t to 8.5 t" in one.stdout.splitlines()[0]
    assert sum(line.rstrip().endswith("%") for line in one.stdout.splitlines()) >= 5
    over = ("--over", f"{LOAD}=7.5 t..8.5 t", "--over", "hopper.dry_mass = 9.8 t .. 10.4 t")
    words = ("sweep", study, *over, "--steps", "3", *QUICK, "--chance", "80 %")
    assert "Down: the load of hopper.hold. Across: the dry mass of hopper." in leadline(*words).stdout
    found = document(leadline(*words, "--json"))
    assert (found["kind"], found["asked"], len(found["succeeded"])) == ("sweep", 0.8, 9)
    assert found["axes"][1]["values"] == pytest.approx([9_800.0, 10_100.0, 10_400.0])


def test_run_with_rare_prints_both_answers_and_json_stays_one_document(
    leadline: Command, study: str, tmp_path: Path
) -> None:
    out = tmp_path / "out"
    words = ("run", study, *QUICK, "--rare", "--variation", "20 %", "--set", "requirements.reserve.at_least=200 kg")
    said = leadline(*words, "--out", out)
    assert said.exit_code == ExitCode.OK
    assert "a case fails with a chance of" in said.stdout
    assert "importance sampling" in said.stdout
    assert (out / "report.html").read_text() == "result rare"
    both = document(leadline(*words, "--json"))
    assert (both["kind"], both["result"]["kind"], both["rare"]["kind"]) == ("answers", "result", "rare")
    assert both["rare"] == json.loads((out / "rare.json").read_text())
    assert both["result"] == json.loads((out / "result.json").read_text())
    assert both["rare"]["target_variation"] == 0.2


def test_answers_stand_beside_the_run_and_the_report_is_made_of_all(
    leadline: Command, study: str, tmp_path: Path
) -> None:
    out = ("--out", tmp_path / "out")
    sized = leadline("size", study, LOAD, *QUICK, *out)
    assert sized.exit_code == ExitCode.OK
    assert "sizing-vehicle.hopper.tanks.hold.load.json; report " in sized.stderr
    assert (tmp_path / "out" / "report.html").read_text() == "sizing"
    assert leadline("run", study, *QUICK, *out, "--seed", "3").exit_code == ExitCode.OK
    assert leadline("drivers", study, *QUICK, *out).exit_code == ExitCode.OK  # another seed, the same study
    sweep = ("sweep", study, "--over", f"{LOAD}=7.5 t..8.5 t", "--steps", "3", *QUICK, *out, "--quiet")
    assert leadline(*sweep).stderr == ""
    assert (tmp_path / "out" / "report.html").read_text() == "result drivers sizing sweep"
    names = {path.name for path in (tmp_path / "out").iterdir()}
    assert {"result.json", "drivers.json", "sweep-vehicle.hopper.tanks.hold.load.json"} <= names
    assert json.loads((tmp_path / "out" / "run.json").read_text())["seed"] == 3


def test_a_folder_of_another_study_is_refused(leadline: Command, study: str, tmp_path: Path) -> None:
    out = ("--out", tmp_path / "out")
    assert leadline("run", study, *QUICK, *out).exit_code == ExitCode.OK
    other = ("size", study, LOAD, *QUICK, "--set", "hopper.dry_mass=10 t", *out)
    refused = leadline(*other)
    assert refused.exit_code == ExitCode.RUN_FAILED
    assert "--replace" in refused.stderr
    assert leadline(*other, "--replace").exit_code == ExitCode.OK
    assert not (tmp_path / "out" / "result.json").exists()


@pytest.mark.parametrize(
    "words",
    [
        ("drivers", "STUDY", "--pairs", "0"),
        ("size", "STUDY"),
        ("size", "STUDY", LOAD, "--chance", "110 %"),
        ("size", "STUDY", LOAD, "--confidence", "soon"),
        ("size", "STUDY", LOAD, "--prefer", "middle"),
        ("sweep", "STUDY"),
        ("sweep", "STUDY", "--over", LOAD),
        ("sweep", "STUDY", "--over", f"{LOAD}=7 t"),
        ("sweep", "STUDY", "--over", "a=1..2", "--over", "b=1..2", "--over", "c=1..2"),
        ("sweep", "STUDY", "--over", f"{LOAD}=7 t..8 t", "--steps", "1"),
        ("run", "STUDY", "--rare", "--variation", "0 %"),
    ],
    ids=" ".join,
)
def test_usage_errors(leadline: Command, study: str, words: tuple[str, ...]) -> None:
    result = leadline(*(study if word == "STUDY" else word for word in words))
    assert result.exit_code == ExitCode.USAGE
    assert result.stdout == ""
    assert "Error" in result.stderr


@pytest.mark.parametrize(
    "words",
    [
        ("size", "STUDY", "hopper.colour"),
        ("size", "STUDY", LOAD, "--from", "9 t", "--to", "8 t"),
        ("sweep", "STUDY", "--over", f"{LOAD}=7 km..8 km"),
    ],
    ids=" ".join,
)
def test_numbers_the_study_does_not_have_are_told(leadline: Command, study: str, words: tuple[str, ...]) -> None:
    result = leadline(*(study if word == "STUDY" else word for word in words), "--json")
    assert result.exit_code == ExitCode.STUDY_INVALID
    (issue,) = json.loads(result.stdout)["issues"]
    assert issue["remedy"]
    assert "Traceback" not in result.stderr


def test_a_search_for_a_value_that_is_stopped_ends_as_interrupted(
    leadline: Command, study: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    stop_after(monkeypatch, 3)
    sized = leadline("size", study, LOAD, *QUICK)
    assert (sized.exit_code, sized.stdout) == (ExitCode.INTERRUPTED, "")
    assert "nothing was finished" in sized.stderr


def test_a_sweep_that_is_stopped_shows_what_is_done(
    leadline: Command, study: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    stop_after(monkeypatch, 4)
    result = leadline("sweep", study, "--over", f"{LOAD}=7.5 t..8.5 t", *QUICK, "--json")
    assert result.exit_code == ExitCode.PARTIAL
    found = json.loads(result.stdout)
    assert found["partial"]
    assert len(found["succeeded"]) == 4
    assert "what was finished is shown" in result.stderr


def stop_after(monkeypatch: pytest.MonkeyPatch, values: int) -> None:
    """Let the user press Ctrl-C once so many values have been flown."""
    made = Control.__init__

    def init(self: Control, **given: Any) -> None:
        told = given["progress"]

        def progress(at: Progress) -> None:
            told(at)
            if at.cases >= 4_000 * values:
                os.kill(os.getpid(), signal.SIGINT)

        made(self, **{**given, "progress": progress})

    monkeypatch.setattr(Control, "__init__", init)


def test_ctrl_c_ends_drivers_with_what_is_finished(tmp_path: Path) -> None:
    path = tmp_path / "ferry.yaml"
    path.write_text(FERRY)
    words = [*PROGRAM, "drivers", str(path), "--cases", "2000000000", "--json"]
    started = subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    time.sleep(4)  # there is nothing to see from outside; a block and its changes take a tenth of a second
    started.send_signal(signal.SIGINT)
    said, talk = started.communicate(timeout=60)
    assert started.returncode == ExitCode.PARTIAL, talk
    found = json.loads(said)
    assert found["partial"]
    assert found["buy_down_cases"] % BLOCK == 0
    assert found["buy_down"]
    assert "what was finished is shown" in talk


def test_compare_says_which_requirement_separates_each_option(leadline: Command, tmp_path: Path) -> None:
    path = tmp_path / "ferry.yaml"
    path.write_text(FERRY)
    said = leadline("compare", str(path), "--cases", BLOCK).stdout
    table = said[said.index("Requirement by requirement:") :].splitlines()
    assert "separates it from the base" in table[1]
    (light,) = [line for line in table if line.startswith("  light ")]
    (same,) = [line for line in table if line.startswith("  as before ")]
    found = json.loads(leadline("compare", str(path), "--cases", BLOCK, "--json").stdout)["options"][1]
    assert f"  {found['separations'][0]['requirement']} " in light
    assert f"in {100 * found['where_base_fails']['value']:.1f} %" in light
    assert same.rstrip().endswith("in 0 %")


def test_help_names_the_verbs_and_the_form_of_a_range(leadline: Command) -> None:
    said = " ".join(leadline("--help").stdout.split())
    assert all(verb in said for verb in ("drivers", "size", "sweep"))
    assert "PLACE=LOW..HIGH" in leadline("sweep", "--help").stdout


@pytest.mark.parametrize("verb", ["drivers", "size", "sweep"])
def test_help_imports_nothing_slow(verb: str) -> None:
    code = (
        "import sys\nfrom leadline.cli.application import run_command_line\nfrom leadline.cli.reports import Reports\n"
        f"try: run_command_line(Reports(), [{verb!r}, '--help'])\nexcept SystemExit: pass\n"
        "print('\\n' + ' '.join(sys.modules))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert {"numpy", "scipy", "yaml", "plotly", "dask"} & set(done.stdout.splitlines()[-1].split()) == set()
