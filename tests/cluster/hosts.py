"""Hosts on one machine: network namespaces joined by cables that can be cut."""

from __future__ import annotations

import os
import shutil
import subprocess
from collections.abc import Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO

from conftest import lack

__all__ = ["Host", "cable", "hosts"]


def _ip(*words: str) -> None:
    said = subprocess.run(["ip", *words], capture_output=True, text=True, check=False)  # noqa: S607 - found on PATH
    assert said.returncode == 0, f"ip {' '.join(words)}: {said.stderr}"


def _missing() -> str | None:
    """Return why no hosts can be made here; None where they can."""
    if os.geteuid() != 0:
        return "network namespaces take root"
    if shutil.which("ip") is None:
        return "iproute2 (ip) is not installed"
    name = f"leadline-try-{os.getpid()}"
    said = subprocess.run(["ip", "netns", "add", name], capture_output=True, text=True, check=False)  # noqa: S607
    if said.returncode:
        return f"network namespaces cannot be made here: {said.stderr.strip()}"
    _ip("netns", "del", name)
    return None


@dataclass
class Host:
    """A network of its own, and the processes started in it.

    Parameters
    ----------
    name
        Of the namespace.
    log
        Where the processes say what they do.
    """

    name: str
    log: Path
    processes: list[subprocess.Popen[bytes]] = field(default_factory=list)

    def start(self, command: Sequence[str], environment: Mapping[str, str]) -> None:
        """Start a process on this host."""
        with self.log.open("ab") as said:
            self.processes.append(self._popen(command, environment, said))

    def _popen(
        self, command: Sequence[str], environment: Mapping[str, str], said: IO[bytes]
    ) -> subprocess.Popen[bytes]:
        words = ["ip", "netns", "exec", self.name, *command]
        return subprocess.Popen(words, stdout=said, stderr=said, env={**os.environ, **environment})

    def cut(self, device: str) -> None:
        """Cut a cable: nothing arrives, and nobody is told."""
        _ip("-n", self.name, "link", "set", device, "down")

    def end(self) -> None:
        """Kill what runs here, and remove the host."""
        for process in self.processes:
            process.kill()
            process.wait()
        _ip("netns", "del", self.name)


@contextmanager
def hosts(folder: Path, *names: str) -> Iterator[list[Host]]:
    """Make hosts with nothing but themselves to talk to; skip, or fail where nothing may be skipped, if none can be."""
    if reason := _missing():
        lack(reason)
    with ExitStack() as stack:
        made = []
        for name in names:
            host = Host(f"leadline-{os.getpid()}-{name}", folder / f"{name}.log")
            _ip("netns", "add", host.name)
            stack.callback(host.end)
            _ip("-n", host.name, "link", "set", "lo", "up")
            made.append(host)
        yield made


def cable(device: str, first: tuple[Host | None, str], second: tuple[Host, str]) -> None:
    """Join two hosts, or this machine (None) and one, by a cable with an address at each end; gone with its hosts."""
    ours = device if first[0] is not None else f"{device}-{os.getpid() % 10_000}"
    _ip("link", "add", ours, "type", "veth", "peer", "name", device, "netns", second[0].name)
    if first[0] is not None:
        _ip("link", "set", ours, "netns", first[0].name)
    for host, name, address in ((first[0], ours, first[1]), (second[0], device, second[1])):
        inside = [] if host is None else ["-n", host.name]
        _ip(*inside, "address", "add", f"{address}/30", "dev", name)
        _ip(*inside, "link", "set", name, "up")
