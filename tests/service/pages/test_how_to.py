"""The how-tos, each run as it stands: files written, commands typed."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from leadline_service.pages.how_to_texts import HowTo, how_tos

PORTS = ("8786", "8731")


def free_port() -> int:
    with socket.socket() as opened:
        opened.bind(("127.0.0.1", 0))
        port: int = opened.getsockname()[1]
    return port


def environment() -> dict[str, str]:
    bin_folder = Path(sys.executable).parent
    return {**os.environ, "PATH": f"{bin_folder}:{os.environ['PATH']}", "NO_COLOR": "1"}


@contextmanager
def behind(command: str, folder: Path) -> Iterator[None]:
    """Keep a command running that its text puts into the background."""
    log = folder / "log"
    with log.open("a") as out:
        started = subprocess.Popen(
            ["/bin/sh", "-c", f"exec {command}"],
            cwd=folder,
            env=environment(),
            stdout=out,
            stderr=out,
            start_new_session=True,
        )
    port = next(word for word in command.replace(":", " ").split() if word.isdigit() and len(word) > 3)
    until = time.monotonic() + 30
    while time.monotonic() < until and "worker" not in command.split()[:2]:
        with socket.socket() as tried:
            if tried.connect_ex(("127.0.0.1", int(port))) == 0:
                break
        assert started.poll() is None, log.read_text()
        time.sleep(0.1)
    try:
        yield
    finally:
        os.killpg(started.pid, signal.SIGTERM)
        try:
            started.wait(10)
        except subprocess.TimeoutExpired:
            os.killpg(started.pid, signal.SIGKILL)
            started.wait()


def run_all(commands: list[str], folder: Path) -> list[str]:
    """Run commands in turn; those in the background live until the last one is done."""
    if not commands:
        return []
    first, *others = commands
    if first.endswith("&"):
        with behind(first.removesuffix("&").strip(), folder):
            return run_all(others, folder)
    done = subprocess.run(
        ["/bin/sh", "-c", first], cwd=folder, env=environment(), capture_output=True, text=True, timeout=60, check=False
    )
    assert done.returncode == 0, f"{first}\n{done.stdout}\n{done.stderr}"
    return [done.stdout, *run_all(others, folder)]


def test_there_are_the_five_that_were_promised() -> None:
    assert [text.name for text in how_tos()] == [
        "first-study", "refuelling-campaign", "compare-options", "size-a-load", "run-on-a-cluster",
    ]  # fmt: skip
    assert all(text.files and text.commands and text.about for text in how_tos())


SLOW = {"run-on-a-cluster"}
TEXTS = [pytest.param(text, id=text.name, marks=[pytest.mark.slow] if text.name in SLOW else []) for text in how_tos()]


@pytest.mark.parametrize("text", TEXTS)
def test_every_command_does_what_it_says(text: HowTo, tmp_path: Path) -> None:
    for name, content in text.files.items():
        (tmp_path / name).write_text(content)
    commands = list(text.commands)
    for port in PORTS:  # others may run beside this one
        free = str(free_port())
        commands = [command.replace(port, free) for command in commands]
    said = run_all(commands, tmp_path)
    in_turn = [command for command in commands if not command.endswith("&")]
    runs = [out for command, out in zip(in_turn, said, strict=True) if command.startswith("leadline run")]
    assert runs or text.name == "size-a-load"
    assert all("the chance that every requirement is met is" in " ".join(out.split()) for out in runs)
    if text.name == "first-study":
        assert "report.html" in said[2]
    if text.name == "run-on-a-cluster":
        chances = {out.partition("is met is ")[2].partition("confidence")[0] for out in runs}
        assert len({"".join(chance.split()) for chance in chances}) == 1  # the same answer wherever it was computed
