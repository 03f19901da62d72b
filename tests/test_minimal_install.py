"""The numeric layers run where nothing but NumPy, SciPy and pydantic is installed.

An environment of its own is made from the lock (once; again when the lock changes) and the tests of these layers run
in it. All of it is one test, so that two workers of a parallel run never make the environment at the same time.
"""

from __future__ import annotations

import json
import os
import sys
from collections import Counter
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest

from conftest import need
from locked import Pin, needed
from project import ROOT, run

LAYERS = ("physics", "budget", "sampling", "risk")
INSTALLED = {"numpy", "scipy", "pydantic", "pytest", "hypothesis"}
ABSENT = ["dask", "fastapi", "pandas", "plotly", "typer", "yaml"]
ENVIRONMENT = ROOT / ".venv-minimal"
PYTHON = str(ENVIRONMENT / "bin" / "python")

LIST_INSTALLED = f"""
import importlib.metadata, importlib.util, json
names = sorted({{found.name.lower().replace("_", "-") for found in importlib.metadata.distributions()}})
print(json.dumps([names, [name for name in {ABSENT} if importlib.util.find_spec(name) is None]]))
"""


def test_numeric_layers_pass_with_numpy_scipy_and_pydantic_alone(tmp_path: Path) -> None:
    wanted = needed((ROOT / "requirements.lock").read_text(encoding="utf-8"), INSTALLED)
    make_environment(wanted)
    installed, absent = json.loads(must([PYTHON, "-c", LIST_INSTALLED]))
    assert INSTALLED <= set(installed) <= {pin.name for pin in wanted} | {"pip", "setuptools"}
    assert absent == ABSENT

    report = tmp_path / "report.xml"
    folders = [f"tests/{layer}" for layer in LAYERS]
    # What is marked slow runs in the full job; here the question is only what the layers import.
    options = ["-q", "-m", "not slow", "-p", "no:cacheprovider", f"--junitxml={report}"]
    must([PYTHON, "-m", "pytest", *options, *folders], LEADLINE_MINIMAL="1")
    passed = passed_by_layer(report)
    assert all(passed[layer] > 0 for layer in LAYERS), passed


@pytest.mark.parametrize(
    ("no_skips", "minimal", "expected"),
    [("", "", pytest.skip.Exception), ("1", "", RuntimeError), ("1", "1", pytest.skip.Exception)],
)
def test_a_missing_package_skips_only_where_it_may(
    monkeypatch: pytest.MonkeyPatch, no_skips: str, minimal: str, expected: type[BaseException]
) -> None:
    monkeypatch.setenv("LEADLINE_NO_SKIPS", no_skips)
    monkeypatch.setenv("LEADLINE_MINIMAL", minimal)
    with pytest.raises(expected, match="no_such_package is not installed"):
        need("no_such_package")


def make_environment(wanted: list[Pin]) -> None:
    """Make the minimal environment, unless it is there and was made from the same pins by the same Python."""
    requirements = "".join(pin.text for pin in wanted)
    marked = f"# {sys.version!r}\n{requirements}"
    stamp = ENVIRONMENT / "installed.txt"
    if stamp.exists() and stamp.read_text(encoding="utf-8") == marked:
        return
    must([sys.executable, "-m", "venv", "--clear", str(ENVIRONMENT)])
    listed = ENVIRONMENT / "requirements.txt"
    listed.write_text(requirements, encoding="utf-8")
    must([PYTHON, "-m", "pip", "-qq", "--no-input", "install", "--require-hashes", "-r", str(listed)])
    stamp.write_text(marked, encoding="utf-8")


def must(command: list[str], **variables: str) -> str:
    """Run a command that has to succeed, and return its standard output."""
    # The variables by which a parallel or measured test run talks to its own workers are not for this one.
    kept = {name: value for name, value in os.environ.items() if not name.startswith(("PYTEST_", "COV_"))}
    said = run(command, environment={**kept, **variables})
    assert said.returncode == 0, said.stdout + said.stderr
    return said.stdout


def passed_by_layer(report: Path) -> Counter[str]:
    """Count the tests that passed, by the folder they stand in."""
    cases = ET.parse(report).getroot().iter("testcase")  # noqa: S314 (our own file)
    return Counter(case.attrib["classname"].split(".")[1] for case in cases if not list(case))
