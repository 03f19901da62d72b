"""What a result was computed with, so that it can be computed again to the bit."""

from __future__ import annotations

import platform
from functools import lru_cache
from hashlib import sha256
from importlib import metadata
from typing import Any, cast

import numpy as np

from leadline.run.blocks import Spans
from leadline.run.result import Provenance
from leadline.run.work import PILOT_CASES, Prepared, Work

__all__ = ["build", "provenance", "stream_of"]

PACKAGES = ("leadline", "numpy", "scipy", "pydantic")
GENERATOR = (
    "SFC64 seeded by the run's seed, the input's name and the block's number;"
    " standard normal scores by ziggurat, carried into each law"
)


@lru_cache(maxsize=1)
def _versions() -> dict[str, str]:
    return {name: metadata.version(name) for name in PACKAGES}


@lru_cache(maxsize=1)
def _cpu_features() -> tuple[str, ...]:
    """Give the vector extensions NumPy uses here; they decide the last bits of exp and log."""
    config = cast("dict[str, Any]", np.show_config(mode="dicts"))
    extensions = config["SIMD Extensions"]
    return (*extensions.get("baseline", ()), *extensions.get("found", ()))


def build() -> dict[str, str]:
    """Return what decides the bits of a block besides the study: versions, and what the processor can do."""
    python = ".".join(platform.python_version_tuple()[:2])
    extensions = " ".join(_cpu_features())
    return {"python": python, **_versions(), "machine": platform.machine(), "vector extensions": extensions}


def provenance(ready: Prepared, spans: Spans, cases: int) -> Provenance:
    """Return the record of a run.

    Parameters
    ----------
    ready
        What it was computed with.
    spans
        The blocks that are in it.
    cases
        How many cases they came to.
    """
    tail = cases % ready.sampler.block_size
    return Provenance(
        versions=_versions(),
        python=platform.python_version(),
        platform=f"{platform.system()} {platform.machine()}",
        cpu_features=_cpu_features(),
        block_size=ready.sampler.block_size,
        blocks=spans,
        last_block_cases=tail or None,
        pilot_cases=PILOT_CASES,
        generator=GENERATOR,
    )


def stream_of(work: Work) -> str:
    """Return a digest of all that decides a block's bits: study, seed, design and build.

    Blocks kept under another digest must not be merged with these.
    """
    parts = (
        work.document_json,
        str(work.seed),
        work.design,
        str(PILOT_CASES),
        repr(sorted(_versions().items())),
        platform.machine(),
        repr(_cpu_features()),
    )
    return sha256("\n".join(parts).encode()).hexdigest()
