"""The verb as a user types it, with a real server on a port of its own."""

from __future__ import annotations

import signal
import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from importlib.metadata import entry_points

import httpx2
import pytest
import typer

from leadline.errors import Unreachable
from leadline_service.command import serve

PROGRAM = [sys.executable, "-m", "leadline_service"]


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


@pytest.mark.parametrize(("signal_sent", "code"), [(signal.SIGINT, 0), (signal.SIGTERM, -signal.SIGTERM)])
def test_a_real_server_answers_and_stops(signal_sent: signal.Signals, code: int) -> None:
    with served("--port", "0") as (address, process):
        answer = httpx2.get(f"{address}/health/ready", timeout=10)
        assert (answer.status_code, answer.json()["status"]) == (200, "ready")
        assert "server" not in answer.headers
        process.send_signal(signal_sent)
        out, _ = process.communicate(timeout=10)
        assert (process.returncode, out) == (code, "")


def test_a_reachable_address_is_refused_as_wrong_usage() -> None:
    ended = subprocess.run([*PROGRAM, "--host", "0.0.0.0"], capture_output=True, text=True, timeout=30, check=False)
    assert ended.returncode == 2
    assert "no access control yet" in " ".join(ended.stderr.replace("│", " ").split())
    assert "Traceback" not in ended.stderr


@pytest.mark.parametrize(("option", "value"), [("host", "192.0.2.7"), ("port", 70_000), ("port", -1)])
def test_bad_settings_name_their_option(option: str, value: str | int) -> None:
    with pytest.raises(typer.BadParameter) as caught:
        serve(**{option: value})  # type: ignore[arg-type]  # one value of either kind
    assert caught.value.param_hint == f"--{option}"


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
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    for module in [name for name in sys.modules if name.startswith("leadline_service.app")]:
        monkeypatch.delitem(sys.modules, module)
    monkeypatch.setitem(sys.modules, "fastapi", None)  # importing it now raises ModuleNotFoundError
    with pytest.raises(typer.Exit) as caught:
        serve(port=0)
    assert caught.value.exit_code == 2
    assert "install leadline[service]" in capsys.readouterr().err


def test_the_command_line_finds_the_verb_by_name() -> None:
    (found,) = entry_points(group="leadline.commands", name="serve")
    assert found.load() is serve
