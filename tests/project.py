"""Where the project's own files are, and what Python they hold: for the tests that read the project itself."""

from __future__ import annotations

import ast
import re
import subprocess
import tomllib
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
SOURCES = ("src", "service")
EVERYTHING = (*SOURCES, "tests", ".ci")


def python_files(*folders: str) -> list[Path]:
    """Return every Python file under some top-level folders, sorted."""
    return sorted(path for folder in folders for path in (ROOT / folder).rglob("*.py"))


def syntax(path: Path) -> ast.Module:
    """Return a file's syntax tree."""
    return ast.parse(path.read_text(encoding="utf-8"), filename=str(path))


def imports(tree: ast.AST) -> Iterator[str]:
    """Yield the top-level name of everything that a file imports, wherever in the file."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (name.name.partition(".")[0] for name in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module is not None:
            yield node.module.partition(".")[0]


def description() -> dict[str, Any]:
    """Return pyproject.toml as it stands."""
    return tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))


def distribution(requirement: str) -> str:
    """Return the normalised name of the distribution that a requirement starts with."""
    return re.split(r"[^A-Za-z0-9._-]", requirement)[0].lower().replace("_", "-")


def run(
    command: Sequence[str], *, environment: dict[str, str] | None = None, cwd: Path = ROOT
) -> subprocess.CompletedProcess[str]:
    """Run a command in the project's folder and return what it said; the caller judges the return code."""
    return subprocess.run(command, cwd=cwd, env=environment, capture_output=True, text=True, check=False)
