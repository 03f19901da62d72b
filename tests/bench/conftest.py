"""Collects the figures that the benchmarks measure and prints them at the end."""

from __future__ import annotations

from collections.abc import Callable

import pytest

_FIGURES: list[tuple[str, str, str]] = []


@pytest.fixture
def figure() -> Callable[[str, str, str], None]:
    """Return a function that notes a figure: what, the promise, what was measured."""

    def note(what: str, promised: str, measured: str) -> None:
        _FIGURES.append((what, promised, measured))

    return note


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Print the figures."""
    if not _FIGURES:
        return
    terminalreporter.section("figures: ratios measured in one run on this machine")
    for what, promised, measured in _FIGURES:
        terminalreporter.write_line(f"{what:<58} promised {promised:<22} measured {measured}")
