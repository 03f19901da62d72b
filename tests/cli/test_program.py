"""The program as it is started: what it imports, and Ctrl-C."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from leadline.cli.exits import ExitCode
from leadline.cli.options import DesignWord
from leadline.sampling import Design
from run.ferries import BLOCK, FERRY

PROGRAM = (sys.executable, "-m", "leadline")
SLOW = {"numpy", "scipy", "pydantic", "yaml", "dask", "distributed", "plotly", "jinja2", "pandas", "pyarrow", "rich"}


def imported_by(statement: str) -> set[str]:
    code = f"import sys\n{statement}\nprint(*{{name.partition('.')[0] for name in sys.modules}})"
    return set(subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout.split())


@pytest.mark.parametrize(
    "statement", ["import leadline", "import leadline.__main__", "from leadline.cli.application import build; build()"]
)
def test_nothing_slow_is_imported_for_the_help(statement: str) -> None:
    assert imported_by(statement) & SLOW == set()


def test_a_run_in_process_imports_neither_dask_nor_plotly(tmp_path: Path) -> None:
    (tmp_path / "ferry.yaml").write_text(FERRY)
    words = f"['run', {str(tmp_path / 'ferry.yaml')!r}, '--cases', '100', '--quiet']"
    statement = (
        "from leadline.cli.application import run_command_line\nfrom leadline.cli.reports import Reports\n"
        f"try: run_command_line(Reports(), {words})\nexcept SystemExit: pass"
    )
    assert imported_by(statement) & {"dask", "distributed", "plotly", "jinja2", "pandas", "pyarrow", "rich"} == set()


def test_designs_are_those_of_the_sampling() -> None:
    assert [word.value for word in DesignWord] == [design.value for design in Design]


def test_a_usage_error_ends_with_2() -> None:
    assert subprocess.run([*PROGRAM, "fly"], capture_output=True, check=False).returncode == ExitCode.USAGE


@pytest.mark.parametrize("extra", [(), ("--workers", "1")], ids=["in process", "worker process"])
def test_ctrl_c_keeps_what_is_finished(tmp_path: Path, extra: tuple[str, ...]) -> None:
    study, out = tmp_path / "ferry.yaml", tmp_path / "out"
    study.write_text(FERRY)
    words = [*PROGRAM, "run", str(study), "--out", str(out), "--json"]
    started = subprocess.Popen(
        [*words, "--cases", "2000000000", *extra],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )
    deadline = time.monotonic() + 40
    while not (out / "kept.bin").exists():  # written every two seconds once anything is finished
        assert started.poll() is None, started.stderr
        assert time.monotonic() < deadline
        time.sleep(0.05)
    os.killpg(started.pid, signal.SIGINT)  # as a terminal does: to every process
    asked = time.monotonic()
    said, talk = started.communicate(timeout=40)
    assert time.monotonic() - asked < 8  # within a second, with room for a busy machine
    assert started.returncode == ExitCode.PARTIAL, talk
    stopped = json.loads(said)
    assert stopped["partial"]
    done = stopped["cases"]["total"]
    assert 0 < done < 2_000_000_000
    assert done % BLOCK == 0
    assert f"--out {out} --cases 2000000000" in talk
    # What was finished is where the next run begins: only the last cases are computed.
    last = stopped["provenance"]["blocks"][-1][1] * BLOCK
    further = subprocess.run([*words, "--cases", str(last + 1_000)], capture_output=True, text=True, check=True)
    assert json.loads(further.stdout)["cases"]["total"] == last + 1_000
    assert json.loads(further.stdout)["cases"]["succeeded"] >= stopped["cases"]["succeeded"]
