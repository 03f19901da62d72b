"""An API process killed at random moments beside a dispatcher: no run lost, doubled or stuck, and no bit changed.

Three kills here; LEADLINE_KILLS=50 makes it fifty, and --log-cli-level=INFO tells how many runs that disturbed.
"""

from __future__ import annotations

import logging
import os
import random
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from conftest import need
from leadline.client import Client, Event, RunHandle, RunState
from leadline.client.talk import Lost, Pause, Tries
from leadline.run.engine import run_study
from leadline.study import loads
from run.ferries import FERRY
from service.jobs.desk import Desk, opened_desk
from service.jobs.owners import Owner, tail, wait_for

need("distributed")
need("httpx2")

KILLS = int(os.environ.get("LEADLINE_KILLS", "3"))
CASES = (20_000, 300_000, 100_000)  # over at once, watched for a while, and between
WITHIN_S = 60.0
STARTING, MAKING = 0.2, 0.4
"""Shares of the kills while the server starts, and at the moment at which it has made a run."""
ROWS = 4  # of runs, one after the other; two watchers ask for each
PORTS = range(20_000, 30_000)
"""Below those that are given to whoever connects: nobody else takes the port while the server is away."""
LOG = logging.getLogger(__name__)


class Api:
    """A server that answers requests only, on one port however often it is killed.

    Parameters
    ----------
    data
        Folder of the store and the files.
    port
        Where it listens.
    """

    def __init__(self, data: Path, port: int) -> None:
        self.address = f"http://127.0.0.1:{port}"
        self.said = data / "api.log"
        self._arguments = ["serve", "--only", "api", "--port", str(port), "--data", str(data)]
        self._process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        """Start it; it need not listen yet."""
        with self.said.open("ab") as said:
            self._process = subprocess.Popen([sys.executable, "-m", "leadline", *self._arguments], stderr=said)

    def close(self) -> None:
        """Kill it with SIGKILL, as the kernel would; it must have been there until now."""
        if self._process is not None:
            process, self._process = self._process, None
            left = process.poll()
            process.kill()
            process.wait(10)
            assert left is None, f"it has left by itself\n{tail(self.said)}"


@dataclass
class Watchers:
    """Several who ask for the same runs by the same keys, each to its end; every answer is kept."""

    client: Client
    heard: int = 0
    ids: dict[int, set[str]] = field(default_factory=dict)
    made: int = 0
    results: dict[int, set[str]] = field(default_factory=dict)
    enough: threading.Event = field(default_factory=threading.Event)
    lock: threading.Lock = field(default_factory=threading.Lock)

    def watch(self, ends: Callable[[RunHandle], None], seed: int) -> None:
        """Ask for one run after the other until told that it is enough."""
        while not self.enough.is_set():
            handle = self.submit(seed)
            ends(handle)
            result = handle.result(WITHIN_S).to_json()
            assert self.submit(seed).found == "same-key"
            self._keep(self.results, seed, result)
            seed += ROWS

    def submit(self, seed: int) -> RunHandle:
        """Ask for a run; whoever asks for it first makes it."""
        handle = self.client.submit(FERRY, key=f"key-{seed}", cases=cases_of(seed), seed=seed)
        self._keep(self.ids, seed, handle.run_id)
        with self.lock:
            self.made += handle.found == "new"
        return handle

    def by_events(self, handle: RunHandle) -> None:
        """Follow the events of a run to its end: each is told once, in order."""
        events = list(self._counted(handle.events()))
        numbers = [event.number for event in events]
        assert numbers == sorted(set(numbers))
        states = [event.state for event in events if event.state is not None]
        assert states == [RunState.QUEUED, RunState.RUNNING, RunState.FINISHED]

    def by_looking(self, handle: RunHandle) -> None:
        """Look at a run until its end."""
        assert handle.wait(WITHIN_S).state is RunState.FINISHED, handle.run.failure

    def hear_more(self) -> Callable[[], bool]:
        """Return what tells whether any of them has heard anything since now."""
        before = self.heard
        return lambda: self.heard > before

    def _counted(self, events: Iterator[Event]) -> Iterator[Event]:
        for event in events:
            self.heard += 1
            yield event

    def _keep(self, kept: dict[int, set[str]], seed: int, value: str) -> None:
        with self.lock:
            self.heard += 1
            kept.setdefault(seed, set()).add(value)


def cases_of(seed: int) -> int:
    """Return how many cases the run of a seed has."""
    return CASES[seed % len(CASES)]


def a_port() -> int:
    """Return a port that nobody listens on, and that nobody is given who asks for any."""
    for port in random.SystemRandom().sample(PORTS, 100):
        with socket.socket() as tried:
            tried.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            try:
                tried.bind(("127.0.0.1", port))
            except OSError:
                continue
            return port
    raise AssertionError("no port is free")


def answers(port: int) -> bool:
    """Tell whether somebody listens on a port."""
    with socket.socket() as tried:
        return tried.connect_ex(("127.0.0.1", port)) == 0


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[Desk]:
    """Return a desk with leases that a busy machine lets nobody lose."""
    opened = opened_desk(tmp_path / "desk", lease_s=WITHIN_S)
    yield opened
    opened.store.close()


@pytest.fixture
def losses(monkeypatch: pytest.MonkeyPatch) -> list[Lost]:
    """Return what collects every answer and stream that the client has lost, and tries again for."""
    seen: list[Lost] = []
    after_loss = Tries.after_loss

    def noted(tries: Tries, lost: Lost) -> Pause:
        seen.append(lost)
        return after_loss(tries, lost)

    monkeypatch.setattr(Tries, "after_loss", noted)
    # Else all would still be waiting when the server is there again, and killed again.
    monkeypatch.setattr("leadline.client.talk.LONGEST_PAUSE_S", 0.2)
    return seen


def test_an_api_killed_at_random_moments(desk: Desk, losses: list[Lost]) -> None:
    began, port = time.monotonic(), a_port()
    owner = Owner(desk.settings)
    with (
        closing(Api(desk.settings.data, port)) as api,
        Client(api.address, patience_s=WITHIN_S / 2) as client,
        ThreadPoolExecutor(2 * ROWS) as pool,
    ):
        api.start()
        wait_for(lambda: answers(port), WITHIN_S, "listening")
        assert list(client.runs()) == []  # one that has never answered would be given up soon
        watchers = Watchers(client)
        try:
            ways = (watchers.by_events, watchers.by_looking)
            ends = [pool.submit(watchers.watch, way, row) for row in range(ROWS) for way in ways]
            kill(desk, api, watchers)
            watchers.enough.set()
            for end in ends:  # none is stuck: each sees the end of what it has asked for
                end.result(WITHIN_S)
        finally:
            watchers.enough.set()
            api.close()  # whoever still waits gives up
    owner.kill()
    must_be_undisturbed(desk, watchers)
    assert len(losses) >= KILLS  # every kill was noticed
    took_s, runs = time.monotonic() - began, len(watchers.ids)
    numbers = (runs, KILLS, took_s, len(losses), runs - watchers.made)
    LOG.info("%d runs, %d kills, %.1f s, %d tries again, %d runs made whose answer was lost", *numbers)


def kill(desk: Desk, api: Api, watchers: Watchers) -> None:
    """Kill the server at random moments, and start it again."""
    chance = random.Random(20330413)  # noqa: S311 - no secret; the first three are of each kind
    for _ in range(KILLS):
        kind, delay_s = chance.random(), chance.uniform(0.0, 2.0)
        if kind >= STARTING:
            wait_for(watchers.hear_more(), WITHIN_S, "an answer")
        if STARTING <= kind < STARTING + MAKING:
            wait_for_a_run(desk)
        else:
            time.sleep(delay_s)
        api.close()
        api.start()


def wait_for_a_run(desk: Desk) -> None:
    """Wait until one more run is in the store, and not a moment longer: who has asked for it may not know yet."""
    before, began = desk.store.counts(), time.monotonic()
    while sum(desk.store.counts().values()) == sum(before.values()):
        assert time.monotonic() - began < WITHIN_S, "nobody asks for a run"


def must_be_undisturbed(desk: Desk, watchers: Watchers) -> None:
    """Compare what the store holds, and what the watchers were told, with runs in this process."""
    stored = {run.run_id: run for run in desk.store.runs(limit=100_000).items}
    assert all(len(ids) == 1 for ids in watchers.ids.values())  # none doubled: one run for each key
    assert watchers.made <= len(stored)
    ids = {seed: min(ids) for seed, ids in watchers.ids.items()}
    assert sorted(ids.values()) == sorted(stored)  # none lost, and none that nobody knows of
    for seed, run_id in ids.items():
        # exact: who was away while it was computed cannot show
        alone = run_study(loads(FERRY), cases=cases_of(seed), seed=seed).to_json()
        assert watchers.results[seed] == {alone}
        assert desk.document(run_id) == alone
        assert stored[run_id].fence == 1  # taken once, so computed once
