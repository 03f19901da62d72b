"""How likely a spaceflight concept is to close, by how much, and what fails first.

In a notebook::

    import leadline

    study = leadline.load("ferry.yaml")
    result = study.run(cases=100_000)

Importing the package costs next to nothing; what is asked of it is imported then.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from leadline.notebook import NotebookAnswer, NotebookResult, NotebookStudy, load, loads

__all__ = ["NotebookAnswer", "NotebookResult", "NotebookStudy", "load", "loads"]


def __getattr__(name: str) -> Any:
    if name in __all__:
        return getattr(import_module("leadline.notebook"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


def __dir__() -> list[str]:
    return [*globals(), *__all__]
