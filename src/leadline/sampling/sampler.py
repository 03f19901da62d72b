"""The sampler: blocks of scores and values for a list of inputs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from leadline.errors import SamplingError
from leadline.sampling.dependence import RankCorrelation, groups_of
from leadline.sampling.designs import LAYOUTS, Design
from leadline.sampling.law import Array, Law
from leadline.sampling.streams import BlockStreams, checked_seed

__all__ = ["Input", "Sampler"]


@dataclass(frozen=True, slots=True)
class Input:
    """A dispersed number: its name, which addresses its stream, and its law."""

    name: str
    law: Law


class Sampler:
    """Draws blocks of cases for inputs with laws and rank correlations.

    A block is a pure function of the arguments and its index: nothing is remembered from
    one draw to the next, so one sampler may serve many threads.

    What adding an input leaves as it was: with every design, the draws of all inputs
    before it in the list, and of all inputs outside its group of correlations. For
    the independent and the Latin design that holds wherever in the list it is put. The
    Sobol' design deals dimensions in list order, so an input put in the middle moves those
    after it to other dimensions; their draws change, though not their quality.

    Parameters
    ----------
    inputs
        Inputs with different names, in the order of the rows drawn.
    correlations
        Rank correlations between inputs; see `leadline.sampling.dependence`.
    seed
        Non-negative integer of any size.
    design
        How the cases of a block are spread.
    purpose
        What the draws are for; samplers of different purpose never share draws.

    Raises
    ------
    SamplingError
        If two inputs share a name, the seed is negative, or the correlations are
        impossible.
    """

    def __init__(
        self,
        inputs: Sequence[Input],
        correlations: Sequence[RankCorrelation] = (),
        *,
        seed: int,
        design: Design = Design.INDEPENDENT,
        purpose: str = "run",
    ) -> None:
        self.inputs = tuple(inputs)
        self.names = tuple(given.name for given in self.inputs)
        self.correlations = tuple(correlations)
        self.seed = checked_seed(seed)
        self.design = Design(design)
        self.purpose = purpose
        _refuse_twins(self.names)
        self._groups = groups_of(self.names, self.correlations)
        self._mixed = frozenset(place for group in self._groups for place in group.rows)
        self._streams = tuple(BlockStreams(self.seed, purpose, name) for name in self.names)

    @property
    def block_size(self) -> int:
        """Cases in a block."""
        return LAYOUTS[self.design].block_size

    @property
    def replicates(self) -> bool:
        """Whether the mean over each block, not each case, is one independent observation."""
        return LAYOUTS[self.design].replicates

    def draw(self, block: int, out: Array | None = None) -> Array:
        """Return the values of a block.

        Parameters
        ----------
        block
            Index of the block, from 0.
        out
            Where to write, shape (d, block_size), contiguous; made when left out. With it,
            inputs with normal or lognormal laws need no further memory.

        Returns
        -------
        Values, shape (d, block_size), one row for each input.
        """
        rows = self._rows(block, out)
        for place, row in enumerate(rows):
            self._fill(place, block, row)
            if place not in self._mixed:  # the row is still in the cache
                self.inputs[place].law.from_scores(row, row)
        self.correlate(rows)
        for place in sorted(self._mixed):
            self.inputs[place].law.from_scores(rows[place], rows[place])
        return rows

    def scores(self, block: int, out: Array | None = None) -> Array:
        """Return the standard normal scores of a block, correlated as asked.

        Parameters
        ----------
        block, out
            As for `draw`.
        """
        return self.correlate(self.independent_scores(block, out))

    def independent_scores(self, block: int, out: Array | None = None) -> Array:
        """Return the scores of a block before they are correlated.

        Parameters
        ----------
        block, out
            As for `draw`.
        """
        rows = self._rows(block, out)
        for place, row in enumerate(rows):
            self._fill(place, block, row)
        return rows

    def _rows(self, block: int, out: Array | None) -> Array:
        """Return where a block is written."""
        if block < 0:
            raise ValueError(f"block must be 0 or more, not {block}")
        shape = (len(self.inputs), self.block_size)
        rows = np.empty(shape) if out is None else out
        if rows.shape != shape:
            raise ValueError(f"out must have shape {shape}, not {rows.shape}")
        return rows

    def _fill(self, place: int, block: int, row: Array) -> None:
        """Write one input's independent scores of a block."""
        LAYOUTS[self.design].fill(place, self._streams[place](block), row)

    def correlate(self, scores: Array) -> Array:
        """Correlate independent scores in place, shape (d, n), and return them."""
        for group in self._groups:
            group.mix(scores)
        return scores

    def apply_laws(self, scores: Array, out: Array | None = None) -> Array:
        """Return the values that belong to scores.

        Parameters
        ----------
        scores
            Correlated scores, shape (d, n).
        out
            Where to write, same shape; may be `scores` itself; made when left out.
        """
        values = np.empty_like(scores) if out is None else out
        for given, row, value in zip(self.inputs, scores, values, strict=True):
            given.law.from_scores(row, value)
        return values

    def with_laws(self, laws: Mapping[str, Law]) -> Sampler:
        """Return a sampler with other laws for some inputs, on the same scores.

        Parameters
        ----------
        laws
            New laws by the name of their input.

        Raises
        ------
        SamplingError
            If there is no input of such a name.
        """
        unknown = sorted(set(laws) - set(self.names))
        if unknown:
            raise SamplingError(f"there is no input {unknown[0]!r}. The inputs: {self.names}")
        inputs = [replace(given, law=laws.get(given.name, given.law)) for given in self.inputs]
        return Sampler(inputs, self.correlations, seed=self.seed, design=self.design, purpose=self.purpose)


def _refuse_twins(names: Sequence[str]) -> None:
    seen: set[str] = set()
    for name in names:
        if name in seen:
            raise SamplingError(f"two inputs are named {name!r}. Give each input its own name.")
        seen.add(name)
