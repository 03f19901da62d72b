"""Work given to a server by the command line: the same answer, the same files, the same codes."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from client.serving import serving, token_for
from leadline.cli.application import build
from leadline.cli.exits import ExitCode
from leadline.cli.reports import Reports
from leadline.run.answer_files import Answers
from leadline.run.result import CompareResult
from run.ferries import FERRY

LOAD = "vehicle.ferry.tanks.hold.load"
NOWHERE = "http://127.0.0.1:1"


def write_sentence(made: Answers | CompareResult, path: Path) -> None:
    path.write_text(made.sentence)


def leadline(*words: object, drawn: bool = True) -> Result:
    """Run the command line in this process; reports are a line of text."""
    reports = Reports(write_sentence, write_sentence) if drawn else Reports()
    return CliRunner().invoke(build(), [str(word) for word in words], obj=reports)


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Return the address of a service that asks nobody for a token."""
    with serving(tmp_path_factory.mktemp("service")) as address:
        yield address


@pytest.fixture
def study(tmp_path: Path) -> Path:
    path = tmp_path / "ferry.yaml"
    path.write_text(FERRY)
    return path


@pytest.mark.parametrize(
    "words",
    [
        ("run", "--cases", 20_000),
        ("run", "--cases", 3_000, "--json", "--seed", 4, "--option", "light", "--set", "legs.out.cost=905 m/s"),
        ("run", "--until", "0.2 %", "--design", "latin-hypercube", "--json"),
        ("run", "--cases", 2_000, "--rare", "--variation", "50 %", "--json"),
        ("drivers", "--pairs", 300, "--cases", 500, "--json"),
        ("size", LOAD, "--from", "7 t", "--to", "9 t", "--prefer", "largest", "--cases", 400, "--json"),
        ("sweep", "--over", f"{LOAD}=7.6 t..8.4 t", "--steps", 3, "--cases", 300),
    ],
    ids=lambda words: " ".join(map(str, words)),
)
def test_what_is_printed_is_what_a_local_run_prints(server: str, study: Path, words: tuple[object, ...]) -> None:
    verb, *rest = words
    here = leadline(verb, study, *rest)
    there = leadline(verb, study, *rest, "--server", server)
    assert here.exit_code == ExitCode.OK, here.stderr
    assert (there.exit_code, there.stdout) == (here.exit_code, here.stdout)  # exact: the promise
    assert f" on {server}" in there.stderr
    assert leadline(verb, study, *rest, "--server", server, "--quiet").stderr == ""


def test_the_folder_is_that_of_a_local_run(server: str, study: Path, tmp_path: Path) -> None:
    words = ("run", study, "--cases", 20_000, "--keep-cases", "--out")
    assert leadline(*words, tmp_path / "here").exit_code == ExitCode.OK
    assert leadline(*words, tmp_path / "there", "--server", server).exit_code == ExitCode.OK
    here, there = (
        {path.name: path.read_bytes() for path in (tmp_path / name).iterdir() if path.is_file()}
        for name in ("here", "there")
    )
    assert here.pop("kept.bin")  # what to go on from stays with whoever computed
    assert there == here
    assert [path.name for path in (tmp_path / "there" / "cases").iterdir()] == ["part-00000.parquet"]
    beside = leadline("drivers", study, "--pairs", 100, "--cases", 200, "--out", tmp_path / "there", "--server", server)
    assert beside.exit_code == ExitCode.OK
    assert (tmp_path / "there" / "drivers.json").exists()


def test_the_report_is_the_servers_where_none_can_be_drawn_here(server: str, study: Path, tmp_path: Path) -> None:
    made = leadline("run", study, "--cases", 1_000, "--out", tmp_path / "out", "--server", server, drawn=False)
    assert made.exit_code == ExitCode.OK
    assert (tmp_path / "out" / "report.html").read_text().startswith("<!DOCTYPE html>")


def test_judging_a_chance_that_is_not_shown_ends_with_4(server: str, study: Path) -> None:
    study.write_text(FERRY.replace("chance: 85 %", "chance: 99 %"))
    made = leadline("run", study, "--cases", 1_000, "--judge", "--server", server)
    assert made.exit_code == ExitCode.CHANCE_NOT_MET


def test_a_study_that_cannot_be_used_ends_with_3(server: str, study: Path) -> None:
    study.write_text(FERRY.replace("8 m3", "8 kt"))
    made = leadline("run", study, "--json", "--server", server)
    assert made.exit_code == ExitCode.STUDY_INVALID
    assert json.loads(made.stdout)["kind"] == "issues"


@pytest.mark.parametrize("verb", [("run",), ("drivers",), ("size", LOAD), ("sweep", "--over", f"{LOAD}=7 t..8 t")])
def test_a_server_out_of_reach_ends_with_6(study: Path, verb: tuple[str, ...]) -> None:
    made = leadline(verb[0], study, *verb[1:], "--server", NOWHERE)
    assert made.exit_code == ExitCode.OUT_OF_REACH
    assert "cannot be reached" in made.stderr
    assert made.stdout == ""


def test_a_run_that_is_too_much_ends_with_5(server: str, study: Path) -> None:
    made = leadline("run", study, "--cases", 10**13, "--server", server)
    assert made.exit_code == ExitCode.RUN_FAILED
    assert "at most 1000000000000 are taken" in made.stderr


def test_no_two_places_to_compute_are_taken(server: str, study: Path) -> None:
    for place in (("--workers", 1), ("--threads", 1), ("--scheduler", "tcp://127.0.0.1:1")):
        for verb in ("run", "drivers"):
            assert leadline(verb, study, "--server", server, *place).exit_code == ExitCode.USAGE
    assert leadline("run", study, "--server", "here").exit_code == ExitCode.USAGE


def test_the_token_comes_from_a_file_or_the_environment(
    study: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    token, file = token_for(tmp_path / "data", "run"), tmp_path / "token"
    file.write_text(f"{token}\n")
    with serving(tmp_path / "data") as guarded:
        words = ("run", study, "--cases", 100, "--server", guarded)
        refused = leadline(*words)
        assert refused.exit_code == ExitCode.RUN_FAILED
        assert "LEADLINE_TOKEN" in refused.stderr
        assert leadline(*words, "--token-file", file).exit_code == ExitCode.OK
        monkeypatch.setenv("LEADLINE_TOKEN", token)
        shown = leadline(*words)
        assert shown.exit_code == ExitCode.OK
        assert token not in shown.output
    file.write_text("\n")
    for empty in (file, tmp_path / "none"):
        assert leadline(*words, "--token-file", empty).exit_code == ExitCode.USAGE


def test_ctrl_c_cancels_and_keeps_the_partial_result(server: str, study: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    words = [sys.executable, "-m", "leadline", "run", str(study), "--cases", str(10**11), "--server", server]
    started = subprocess.Popen(
        [*words, "--json", "--out", str(out)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )
    assert started.stderr is not None
    assert started.stderr.readline().startswith("Run run_")
    time.sleep(1.5)  # the first blocks are flown in far less
    os.killpg(started.pid, signal.SIGINT)
    said, talk = started.communicate(timeout=30)
    assert started.returncode == ExitCode.PARTIAL, talk
    stopped = json.loads(said)
    assert stopped["partial"]
    assert 0 < stopped["cases"]["total"] < 10**11
    assert (out / "result.json").read_text() == said
    assert "the server keeps what was finished as run_" in talk
