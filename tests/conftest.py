"""What every test may ask for."""

from __future__ import annotations

import importlib
import os
from collections.abc import Callable
from types import ModuleType
from typing import Any, NoReturn

import hypothesis
import pytest

# The same examples on every run: a red build can be repeated, a green one is no luck. Timing belongs in tests/bench.
hypothesis.settings.register_profile("leadline", derandomize=True, deadline=None, print_blob=True)
hypothesis.settings.load_profile("leadline")


def lack(what: str) -> NoReturn:
    """Skip for want of something, said as a sentence without its end.

    A skip is a failure where everything must be present (``LEADLINE_NO_SKIPS=1``), except in the job whose very point
    is that only a few packages are installed (``LEADLINE_MINIMAL=1``).
    """
    if os.environ.get("LEADLINE_NO_SKIPS") == "1" and os.environ.get("LEADLINE_MINIMAL") != "1":
        raise RuntimeError(f"{what}, and LEADLINE_NO_SKIPS=1 allows no skip")
    pytest.skip(what, allow_module_level=True)


def need(module: str) -> Any:
    """Import an optional module, or skip as `lack` does.

    May be called at the top of a test file or
    inside a test; tests may also ask for the fixture of the same name.

    Parameters
    ----------
    module
        Dotted name, such as ``"openturns"``.
    """
    try:
        return importlib.import_module(module)
    except ModuleNotFoundError:
        lack(f"{module} is not installed")


@pytest.fixture(name="need", scope="session")
def need_fixture() -> Callable[[str], ModuleType]:
    """Return the function `need`, for tests that import an oracle inside."""
    return need
