"""Random streams addressed by seed, purpose, input name and block.

A stream is a pure function of its address, so any block of any input can be drawn alone,
in any order, on any machine of the same build, and a new input disturbs no other.

The address is hashed with BLAKE2b straight into the state words of SFC64, through NumPy's
own port for seed sources. Making a generator then costs 1.5 us instead of the 10.6 us of
`SeedSequence` (measured, NumPy 2.4), which is 7 ns a case for 13 inputs in blocks of 2^14;
SFC64 still mixes the words by its 12 warm-up rounds.
"""

from __future__ import annotations

import hashlib
import operator
from typing import Any

import numpy as np
from numpy.random import SFC64, Generator
from numpy.random.bit_generator import ISeedSequence

from leadline.errors import SamplingError

__all__ = ["BlockStreams", "checked_seed", "stream"]


def stream(seed: int, purpose: str, name: str, block: int = 0) -> Generator:
    """Return the generator at one address.

    Parameters
    ----------
    seed
        Non-negative integer of any size; 0 is a seed like any other.
    purpose
        What the draws are for; different purposes never share draws.
    name
        Name of the input.
    block
        Index of the block, from 0.

    Raises
    ------
    SamplingError
        If the seed is no non-negative integer.
    """
    return BlockStreams(seed, purpose, name)(block)


class BlockStreams:
    """The streams of one input, one for each block.

    Parameters
    ----------
    seed, purpose, name
        As for `stream`.
    """

    __slots__ = ("_stem",)

    def __init__(self, seed: int, purpose: str, name: str) -> None:
        whole = checked_seed(seed)
        parts = (
            whole.to_bytes((whole.bit_length() + 7) // 8, "little"),
            purpose.encode("utf-8", "surrogatepass"),
            name.encode("utf-8", "surrogatepass"),
        )
        # Lengths go in first: no two addresses may spell the same bytes.
        message = b"".join(len(part).to_bytes(8, "little") + part for part in parts)
        self._stem = hashlib.blake2b(message, digest_size=32, person=b"leadline-streams").digest()

    def __call__(self, block: int) -> Generator:
        """Return the generator of a block, at its start."""
        address = _HashedAddress(self._stem + block.to_bytes(8, "little"))
        return Generator(SFC64(address))  # type: ignore[arg-type]  # stubs leave out ISeedSequence


def checked_seed(seed: int) -> int:
    """Return a seed as a plain integer.

    Raises
    ------
    SamplingError
        If it is no non-negative integer.
    """
    remedy = "Write a whole number from 0 up."
    try:
        whole = operator.index(seed)
    except TypeError as error:
        raise SamplingError(f"seed must be an integer, not {seed!r}. {remedy}") from error
    if isinstance(seed, bool) or whole < 0:
        raise SamplingError(f"seed must be a non-negative integer, not {seed!r}. {remedy}")
    return whole


class _HashedAddress(ISeedSequence):
    """Seed source whose words are a hash of an address."""

    __slots__ = ("_address",)

    def __init__(self, address: bytes) -> None:
        self._address = address

    def generate_state(self, n_words: int, dtype: Any = np.uint32) -> Any:
        """Return state words, as NumPy's bit generators ask for them."""
        word = np.dtype(dtype)
        digest = hashlib.blake2b(self._address, digest_size=n_words * word.itemsize).digest()
        return np.frombuffer(digest, dtype=word.newbyteorder("<")).astype(word, copy=False)
