"""Draws of a study kept from one change of it to the next.

The draws of an input depend on the seed, its name and the block, never on the other inputs outside its
group of correlations (see `leadline.sampling.Sampler`). Of a changed study only inputs that are new, or
whose law or correlations differ, are therefore drawn; every other number is the base study's, to the bit.
"""

from __future__ import annotations

from collections.abc import Generator, Iterator, Sequence

import numpy as np
import numpy.typing as npt

from leadline.sampling import Input, RankCorrelation, Sampler
from leadline.study import Study

__all__ = ["WarmDraws"]

Array = npt.NDArray[np.float64]
Drawn = Generator[Array, None, None]


class WarmDraws:
    """The first cases of a study from a seed, and those of studies much like it.

    Parameters
    ----------
    study
        The base study.
    seed, purpose
        Which draws; independent ones, as only those do not depend on the other inputs.
    cases
        How many.
    """

    def __init__(self, study: Study, seed: int, cases: int, purpose: str = "run") -> None:
        self._seed, self._purpose, self.cases = seed, purpose, cases
        self._inputs, self._correlations = study.inputs, study.correlations
        self._groups = _groups(study.inputs, study.correlations)
        self._rows = {given.name: row for row, given in enumerate(study.inputs)}
        sampler = Sampler(study.inputs, study.correlations, seed=seed, purpose=purpose)
        self.block_size = sampler.block_size
        self._first_scores = sampler.scores(0)[:, :cases].copy()
        self._blocks = [sampler.draw(block)[:, :left].copy() for block, left in self._layout()]

    @property
    def nbytes(self) -> int:
        """What it holds in memory, bytes."""
        return self._first_scores.nbytes + sum(block.nbytes for block in self._blocks)

    def columns(self, study: Study) -> Drawn:
        """Return the values of a study's inputs (d, n), block by block.

        Each is valid until the next is asked for, and not to be changed.
        """
        if study.inputs == self._inputs and study.correlations == self._correlations:
            yield from self._blocks
            return
        own, sampler = self._drawn_anew(study)
        if tuple(given.name for given in study.inputs) == tuple(self._rows):
            yield from self._with_rows(own, sampler)
        else:
            yield from self._assembled(study.inputs, own, sampler)

    def scores(self, study: Study) -> Array:
        """Return the standard normal scores of the first block (d, n)."""
        own, sampler = self._drawn_anew(study)
        new = sampler.scores(0)[:, : self.cases]
        rows = [
            new[own[given.name]] if given.name in own else self._first_scores[self._rows[given.name]]
            for given in study.inputs
        ]
        return np.array(rows).reshape(len(rows), self._first_scores.shape[1])

    def _layout(self) -> Iterator[tuple[int, int]]:
        for start in range(0, self.cases, self.block_size):
            yield start // self.block_size, min(self.block_size, self.cases - start)

    def _drawn_anew(self, study: Study) -> tuple[dict[str, int], Sampler]:
        """Return which inputs are to be drawn, with their rows, and what draws them."""
        groups = _groups(study.inputs, study.correlations)
        known = {given.name: given for given in self._inputs}
        fresh = {
            given.name
            for given in study.inputs
            if known.get(given.name) != given or groups[given.name] != self._groups[given.name]
        }
        # A correlated group is mixed as a whole and in order.
        wanted = [given for given in study.inputs if not fresh.isdisjoint(_members(groups, given.name))]
        names = {given.name for given in wanted}
        tied = [each for each in study.correlations if each.first in names]
        own = {given.name: row for row, given in enumerate(wanted)}
        return own, Sampler(wanted, tied, seed=self._seed, purpose=self._purpose)

    def _with_rows(self, own: dict[str, int], sampler: Sampler) -> Drawn:
        """Put new rows into the base's own blocks for as long as each is looked at."""
        places = [self._rows[name] for name in own]
        for (block, left), columns in zip(self._layout(), self._blocks, strict=True):
            kept = columns[places]
            try:
                columns[places] = sampler.draw(block)[:, :left]
                yield columns
            finally:
                columns[places] = kept

    def _assembled(self, inputs: Sequence[Input], own: dict[str, int], sampler: Sampler) -> Drawn:
        for (block, left), columns in zip(self._layout(), self._blocks, strict=True):
            new = sampler.draw(block)[:, :left]
            made = np.empty((len(inputs), left))
            for row, given in enumerate(inputs):
                made[row] = new[own[given.name]] if given.name in own else columns[self._rows[given.name]]
            yield made


Group = tuple[tuple[str, ...], tuple[RankCorrelation, ...]]


def _groups(inputs: Sequence[Input], correlations: Sequence[RankCorrelation]) -> dict[str, Group]:
    """Return, for each input, which inputs it is tied to, itself included, in order, and by what."""
    group = {given.name: {given.name} for given in inputs}
    for each in correlations:
        joined = group[each.first] | group[each.second]
        for name in joined:
            group[name] = joined
    order = {given.name: row for row, given in enumerate(inputs)}
    return {
        name: (
            tuple(sorted(members, key=order.__getitem__)),
            tuple(each for each in correlations if each.first in members),
        )
        for name, members in group.items()
    }


def _members(groups: dict[str, Group], name: str) -> tuple[str, ...]:
    return groups[name][0]
