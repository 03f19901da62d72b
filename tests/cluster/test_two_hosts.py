"""Workers on two hosts, over TLS; one host is cut off while a run goes on."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from client.serving import token_for
from cluster.hosts import Host, cable, hosts
from conftest import need
from leadline.client import Client, RunState
from leadline.errors import Unreachable
from leadline.run.engine import Request, compute
from leadline.run.executors import InProcess
from project import ROOT
from run.ferries import FERRY, ferry

need("distributed")

# Addresses set aside for tests of networks (RFC 2544), so they are nobody's.
HERE, NEAR_FROM_HERE = "198.18.7.1", "198.18.7.2"
NEAR, FAR = "198.18.7.5", "198.18.7.6"
SCHEDULER = f"tls://{NEAR}:8786"
CASES = 8_000_000
SETTINGS = {
    "DASK_DISTRIBUTED__COMM__REQUIRE_ENCRYPTION": "True",
    "DASK_DISTRIBUTED__COMM__TLS__MIN_VERSION": "1.3",
    "DASK_DISTRIBUTED__SCHEDULER__HTTP__ROUTES": "[]",
    "DASK_DISTRIBUTED__WORKER__HTTP__ROUTES": "[]",
    # A host that answers nothing for so long is given up; half a minute unless told otherwise.
    "DASK_DISTRIBUTED__COMM__TIMEOUTS__TCP": "12s",
}


def tls(folder: Path, role: str, words: tuple[str, str, str]) -> list[str]:
    """Return the options that name a role's files."""
    return [f"{words[0]}={folder}/ca.crt", f"{words[1]}={folder}/{role}.crt", f"{words[2]}={folder}/{role}.key"]


def dask(folder: Path, verb: str, *more: str) -> list[str]:
    """Return a command of dask, as docker/compose.yaml has it."""
    files = tls(folder, verb, ("--tls-ca-file", "--tls-cert", "--tls-key"))
    quiet = ["--no-dashboard", "--dashboard-address=127.0.0.1:0"]
    return [sys.executable, "-m", "distributed.cli.dask_" + verb, *more, *files, *quiet]


def serve(folder: Path, data: Path) -> list[str]:
    """Return the command of the service."""
    place = [f"--host={NEAR_FROM_HERE}", "--port=8731", f"--data={data}", f"--scheduler={SCHEDULER}"]
    files = tls(folder, "dispatcher", ("--scheduler-ca", "--scheduler-cert", "--scheduler-key"))
    return [sys.executable, "-m", "leadline", "serve", *place, *files]


@pytest.fixture
def cluster(tmp_path: Path) -> Iterator[tuple[Host, Client]]:
    """Start a service, a scheduler and a worker on one host, a worker on another; yield the other and a client."""
    folder = tmp_path / "certificates"
    subprocess.run([ROOT / "docker" / "certificates.sh", folder], check=True, stderr=subprocess.DEVNULL)
    token = token_for(tmp_path / "data", "run")
    with hosts(tmp_path, "near", "far") as (near, far):
        cable("service", (None, HERE), (near, NEAR_FROM_HERE))
        cable("workers", (near, NEAR), (far, FAR))
        near.start(dask(folder, "scheduler", "--protocol=tls", "--port=8786", f"--host={NEAR}"), SETTINGS)
        worker = dask(folder, "worker", SCHEDULER, "--no-nanny", "--nthreads=1", f"--local-directory={tmp_path}")
        near.start(worker, SETTINGS)
        far.start(worker, SETTINGS)
        near.start(serve(folder, tmp_path / "data"), {})
        with Client(f"http://{NEAR_FROM_HERE}:8731", token) as client:
            wait_for_both(client, far)
            yield far, client


def wait_for_both(client: Client, far: Host) -> None:
    """Wait until the service answers and both workers are there."""
    until = time.monotonic() + 60
    while True:
        try:
            client.check(FERRY)
            if "Registered to" in far.log.read_text():
                return
        except Unreachable:
            pass
        assert time.monotonic() < until, far.log.read_text()
        time.sleep(0.1)


@pytest.mark.slow
@pytest.mark.skipif(
    os.environ.get("LEADLINE_TWO_HOSTS") != "1", reason="half a minute: asked for by LEADLINE_TWO_HOSTS=1"
)
def test_a_host_that_is_cut_off_mid_run_costs_nothing_but_time(cluster: tuple[Host, Client]) -> None:
    far, client = cluster
    run = client.submit(FERRY, cases=CASES)
    done = next(event.progress.cases for event in run.events() if event.progress is not None and event.progress.cases)
    assert 0 < done < CASES
    far.cut("workers")
    result = run.result(120)
    assert run.state().state is RunState.FINISHED
    # exact: the promise that an answer does not depend on who computed it
    assert result == compute(ferry(), Request(CASES), InProcess()).result
