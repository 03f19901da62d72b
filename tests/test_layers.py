"""Who may import whom: the contracts of pyproject.toml, and that they would notice a breach."""

from __future__ import annotations

import os
import re
import shutil
import sys
from importlib.metadata import packages_distributions
from itertools import chain
from pathlib import Path
from typing import Any

import pytest

from project import EVERYTHING, ROOT, SOURCES, description, distribution, imports, python_files, run, syntax

LINT_IMPORTS = [str(Path(sys.executable).parent / "lint-imports"), "--no-logo", "--no-cache"]
NUMERIC = ("budget", "constants", "errors", "physics", "risk", "sampling", "vehicle")
OURS = {"leadline", "leadline_service", "locked", *(path.stem for path in (ROOT / "tests").iterdir())}
COMPANIONS = {"markupsafe": "jinja2", "pydantic-core": "pydantic"}  # published as one with the package that is declared


def test_every_contract_is_kept() -> None:
    said = run(LINT_IMPORTS)
    assert said.returncode == 0, said.stdout + said.stderr
    assert re.search(r"Contracts: \d+ kept, 0 broken", said.stdout)


@pytest.mark.parametrize(
    ("contract", "module", "line"),
    [
        ("layers", "src/leadline/errors.py", "import leadline.constants"),
        ("layers", "src/leadline/sampling/breach.py", "from leadline.risk import proportion"),
        ("layers", "src/leadline/newcomer.py", "a_module_that_no_layer_names = True"),
        ("no-front-door", "src/leadline/budget/breach.py", "def late():\n    import leadline"),
        ("no-cycles", "service/leadline_service/settings.py", "import leadline_service.command"),
        ("service-on-top", "src/leadline/run/breach.py", "import leadline_service"),
        ("numbers-only", "src/leadline/physics/breach.py", "import pandas"),
        ("dask-in-one-place", "src/leadline/run/breach.py", "from dask import delayed"),
        ("plotly-in-report", "src/leadline/run/breach.py", "def late():\n    import plotly.graph_objects"),
    ],
)
def test_a_breach_is_noticed(tmp_path: Path, contract: str, module: str, line: str) -> None:
    for folder in SOURCES:
        shutil.copytree(ROOT / folder, tmp_path / folder, ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copy(ROOT / "pyproject.toml", tmp_path)
    with (tmp_path / module).open("a", encoding="utf-8") as file:
        file.write(f"\n{line}\n")
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(str(tmp_path / folder) for folder in SOURCES)}
    said = run([*LINT_IMPORTS, "--contract", contract], environment=environment, cwd=tmp_path)
    assert said.returncode == 1, said.stdout + said.stderr
    assert "0 kept, 1 broken" in said.stdout


@pytest.mark.parametrize("layer", NUMERIC)
def test_numeric_layers_import_numpy_and_scipy_only(layer: str) -> None:
    allowed = {"leadline", "numpy", "scipy"} | ({"erfa"} if layer == "physics" else set()) | sys.stdlib_module_names
    found = python_files(f"src/leadline/{layer}") or [ROOT / f"src/leadline/{layer}.py"]
    strangers = {path.relative_to(ROOT): set(imports(syntax(path))) - allowed for path in found}
    assert {path: names for path, names in strangers.items() if names} == {}


@pytest.mark.parametrize(
    ("folders", "groups"), [(SOURCES, ()), (EVERYTHING, ("build", "test"))], ids=["shipped", "everything"]
)
def test_whatever_is_imported_is_declared(folders: tuple[str, ...], groups: tuple[str, ...]) -> None:
    project = description()
    declared = {distribution(entry) for entry in _declared(project, groups)}
    distributions = packages_distributions()
    third_party = set(chain.from_iterable(imports(syntax(path)) for path in python_files(*folders)))
    third_party -= OURS | sys.stdlib_module_names
    brought_by = {name: {distribution(known) for known in distributions.get(name, [name])} for name in third_party}
    undeclared = {
        name
        for name, known in brought_by.items()
        if not (known | {COMPANIONS[one] for one in known & COMPANIONS.keys()}) & declared
    }
    assert undeclared == set()


def _declared(project: dict[str, Any], groups: tuple[str, ...]) -> list[str]:
    listed = [project["project"]["dependencies"], *project["project"]["optional-dependencies"].values()]
    listed += [project["dependency-groups"][group] for group in groups]
    return [entry for entry in chain.from_iterable(listed) if isinstance(entry, str)]
