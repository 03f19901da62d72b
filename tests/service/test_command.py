"""The verb as a user types it, with a real server on a port of its own."""

from __future__ import annotations

import json
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta
from importlib.metadata import entry_points
from pathlib import Path

import httpx2
import pytest
import typer
from typer.testing import CliRunner
from typer.testing import Result as Answer

from leadline.errors import Unreachable
from leadline.run.engine import run_study
from leadline.run.result import Result
from leadline.study import loads
from leadline_service.command import serve
from leadline_service.token_command import tokens
from service.routes.served import FERRY, YAML

PROGRAM = [sys.executable, "-m", "leadline_service"]
TOKENS = [sys.executable, "-m", "leadline", "tokens"]


@contextmanager
def served(*arguments: str) -> Iterator[tuple[str, subprocess.Popen[str]]]:
    """Start the server as a process; yield its address and the process, which has ended afterwards."""
    process = subprocess.Popen([*PROGRAM, *arguments], stderr=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
    try:
        assert process.stderr is not None
        line = process.stderr.readline()
        yield line.split(" on ")[1].split()[0], process
    finally:
        process.kill()
        process.communicate()


def said(*arguments: str) -> subprocess.CompletedProcess[str]:
    """Run a program that ends by itself."""
    return subprocess.run(arguments, capture_output=True, text=True, timeout=60, check=False)


def plain(text: str) -> str:
    """Return what is said in a frame without the frame."""
    return " ".join(text.replace("│", " ").split())


def test_a_real_server_answers_and_stops_when_terminated(tmp_path: Path) -> None:
    with served("--port", "0", "--data", str(tmp_path)) as (address, process):
        assert httpx2.get(f"{address}/health/live", timeout=10).json() == {"status": "live"}
        process.terminate()
        out, _ = process.communicate(timeout=20)
    assert (process.returncode, out) == (-signal.SIGTERM, "")


def test_a_real_server_computes_and_ends_with_streams_and_runs_under_way(tmp_path: Path) -> None:
    with (
        served("--port", "0", "--data", str(tmp_path)) as (address, process),
        httpx2.Client(base_url=address) as client,
    ):
        study = client.post("/v1/studies", content=FERRY, headers=YAML).json()["content_id"]
        run = client.post("/v1/runs", json={"study": study, "cases": 20_000}).json()
        with client.stream("GET", f"/v1/runs/{run['run_id']}/events", timeout=60) as events:
            kinds = [line for line in events.iter_lines() if line.startswith("event:")]
        assert "event: state" in kinds
        result = client.get(f"/v1/runs/{run['run_id']}/result")
        assert Result.from_json(result.content) == run_study(loads(FERRY), cases=20_000)  # exact
        assert client.get("/health/ready", timeout=10).json()["status"] == "ready"
        assert "server" not in result.headers
        waiting = client.post("/v1/runs", json={"study": study, "cases": 10**9}).json()
        with client.stream("GET", f"/v1/runs/{waiting['run_id']}/events", timeout=60) as events:
            next(events.iter_lines())
            process.send_signal(signal.SIGINT)
            began = time.monotonic()
            out, _ = process.communicate(timeout=20)
        assert (process.returncode, out) == (0, "")
        assert time.monotonic() - began < 10


def test_other_machines_are_served_once_there_is_a_token(tmp_path: Path) -> None:
    where = ("--data", str(tmp_path))
    ended = said(*PROGRAM, "--host", "0.0.0.0", *where)
    assert ended.returncode == 2
    assert "Make a token first (leadline tokens make)" in plain(ended.stderr)
    assert "Traceback" not in ended.stderr
    made = said(*TOKENS, "make", "ann", "--role", "read", *where)  # as a user types it
    assert (made.returncode, made.stdout.count("\n")) == (0, 1)
    token = made.stdout.strip()
    assert token not in made.stderr
    with served("--host", "0.0.0.0", "--port", "0", "--no-compute", *where) as (address, _):
        near = address.replace("0.0.0.0", "127.0.0.1")
        assert httpx2.get(f"{near}/v1/runs", timeout=10).status_code == 401
        shown = {"authorization": f"Bearer {token}"}
        assert httpx2.get(f"{near}/v1/runs", headers=shown, timeout=10).status_code == 200
        (listed,) = json.loads(told("list", "--json", *where).stdout)["tokens"]
        assert (listed["caller"], listed["role"], listed["standing"]) == ("ann", "read", "good")
        assert token.rpartition("_")[2] not in json.dumps(listed)
        assert told("revoke", listed["token_id"], *where).exit_code == 0
        assert httpx2.get(f"{near}/v1/runs", headers=shown, timeout=10).status_code == 401
    assert "revoked" in told("list", *where).stdout


def told(*arguments: str) -> Answer:
    """Run the `tokens` verb in this process."""
    return CliRunner().invoke(tokens, arguments)


@pytest.mark.parametrize(
    "arguments",
    [
        ["make", ""],
        ["make", "a\nb"],
        ["make", "ann", "--role", "king"],
        ["make", "ann", "--days", "-1"],
        ["revoke", "nonsense"],
        ["revoke", "tok_0000000000000000"],
    ],
)
def test_tokens_that_cannot_be(arguments: list[str], tmp_path: Path) -> None:
    result = told(*arguments, "--data", str(tmp_path))
    assert result.exit_code == 2, result.output


def test_a_token_ends_by_itself(tmp_path: Path) -> None:
    for days in ("0.001", "400"):
        assert told("make", "ann", "--days", days, "--data", str(tmp_path)).exit_code == 0
    listed = json.loads(told("list", "--json", "--data", str(tmp_path)).stdout)["tokens"]
    lasts = [datetime.fromisoformat(one["expires"]) - datetime.fromisoformat(one["created"]) for one in listed]
    assert lasts == [pytest.approx(timedelta(seconds=86.4), abs=timedelta(seconds=1)), timedelta(days=400)]


def test_a_store_that_cannot_be_opened_is_out_of_reach(tmp_path: Path) -> None:
    ended = said(*TOKENS, "list", "--store", "mysql://nowhere/x")
    assert (ended.returncode, "The store cannot be opened" in ended.stderr) == (6, True)
    with pytest.raises(Unreachable, match="The store cannot be opened"):
        serve(port=0, store="mysql://nowhere/x")
    with pytest.raises(Unreachable, match="The store cannot be opened"):
        tokens(["list", "--store", "mysql://nowhere/x"], standalone_mode=False)


@pytest.mark.parametrize(
    ("option", "value"), [("host", "nowhere"), ("port", 70_000), ("port", -1), ("runs_at_once", 0)]
)
def test_bad_settings_name_their_option(option: str, value: str | int) -> None:
    with pytest.raises(typer.BadParameter) as caught:
        serve(**{option: value})  # type: ignore[arg-type]  # one value of either kind
    assert caught.value.param_hint == f"--{option.replace('_', '-')}"


def test_a_port_in_use_says_what_to_do() -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken, pytest.raises(Unreachable, match="--port 0"):
        serve(port=taken.getsockname()[1])


def test_a_port_in_use_ends_the_program_with_its_code() -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        command = [*PROGRAM, "--port", str(taken.getsockname()[1])]
        ended = subprocess.run(command, capture_output=True, text=True, timeout=30, check=False)
    assert ended.returncode == 6
    assert ended.stderr.startswith("Port ")


def test_a_missing_framework_says_what_to_install(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    for module in [name for name in sys.modules if name.startswith("leadline_service.app")]:
        monkeypatch.delitem(sys.modules, module)
    monkeypatch.setitem(sys.modules, "fastapi", None)  # importing it now raises ModuleNotFoundError
    with pytest.raises(typer.Exit) as caught:
        serve(port=0, data=tmp_path)
    assert caught.value.exit_code == 2
    assert "install leadline[service]" in capsys.readouterr().err


@pytest.mark.parametrize(("name", "verb"), [("serve", serve), ("tokens", tokens)])
def test_the_command_line_finds_the_verb_by_name(name: str, verb: object) -> None:
    (found,) = entry_points(group="leadline.commands", name=name)
    assert found.load() is verb
