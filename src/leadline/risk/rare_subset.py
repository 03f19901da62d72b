"""Subset simulation: a small chance as a product of larger ones.

The failure is approached over levels: the event that the distance from failure is below c1, below c2 < c1, ..., below
0. The chance is the product of the chances of each level given the one before, each of them large enough to count.

It is done in two parts. A *scout* with one large population chooses the levels and the step length at each. Then
independent *replicates* climb these fixed levels. With levels and steps fixed beforehand the product of shares is
unbiased for any number of chains, however slowly they mix (P. Del Moral, "Feynman-Kac Formulae", Springer 2004, theorem
7.4.2, cited from memory); with levels chosen on the way it is biased by (1 - p0) / (p0 N) a level (F. Cerou, P. Del
Moral, T. Furon, A. Guyader, "Sequential Monte Carlo for rare event estimation", Statistics and Computing 22 (2012) 795,
cited from memory). The coefficient of variation is that of the replicates' mean, so no theory of correlated chains is
needed.

References
----------
All cited from memory. S.-K. Au, J. L. Beck, "Estimation of small failure probabilities in high dimensions by subset
simulation", Probabilistic Engineering Mechanics 16 (2001) 263. I. Papaioannou, W. Betz, K. Zwirglmaier, D. Straub,
"MCMC algorithms for subset simulation", Probabilistic Engineering Mechanics 41 (2015) 89: the proposal (conditional
sampling in standard normal space) and steering its step by the acceptance rate. H.-D. Dau, N. Chopin, "Waste-free
sequential Monte Carlo", J. R. Stat. Soc. B 84 (2022) 114: few seeds, all states of their chains kept.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
from numpy.random import Generator

from leadline.risk.rare_model import Array, Watch

__all__ = ["REPLICATES", "Climb", "Ladder", "calls_of_climb", "climb", "learn_ladder"]

Indices = npt.NDArray[np.intp]

# Chosen by the product of variance and calls on linear, four-branch and high-dimensional examples; flat around these.
SHARE: Final = 0.15  # of a population that reaches the next level
ACCEPTANCE: Final = 0.44  # what the step is steered to; near the best for a random walk (Papaioannou et al. 2015)
FIRST_STEP: Final = 0.6
REPLICATES: Final = 16  # climbing together in one batch
CHAINS: Final = 256  # in a replicate
MOVES: Final = 8  # of each chain at each level
SCOUT_CHAINS: Final = 2048
SCOUT_MOVES: Final = 4

FEW: Final = 50  # states a level must hold before the scout goes on from it
LARGEST_SHARE: Final = 0.9  # of a population; a level that holds more gets nowhere
HARDER: Final = 8  # how many times as long the scout looks where it is stuck
FLOOR: Final = 1e-15  # below this chance the scout gives up
MOST_LEVELS: Final = 200  # and after this many levels, for a margin that shrinks in very small steps


@dataclass(frozen=True, slots=True)
class Ladder:
    """Levels to climb, learned by a scout.

    Parameters
    ----------
    levels
        Distances, each smaller than the one before; the last is 0 if failure was reached.
    steps
        Length of the chains' steps below each level but the last, 0 to 1.
    chance
        Rough chance of the last level.
    nearest
        The smallest distance seen.
    flat
        Whether the scout stopped because the distance shrank no further.
    calls
        Model calls the scout took.
    """

    levels: tuple[float, ...]
    steps: tuple[float, ...]
    chance: float
    nearest: float
    flat: bool
    calls: int

    @property
    def reached(self) -> bool:
        """Whether the last level is failure itself."""
        return bool(self.levels) and self.levels[-1] == 0.0


@dataclass(frozen=True, slots=True)
class Climb:
    """One batch of replicates.

    Parameters
    ----------
    chances
        Independent, unbiased estimates of the chance of failure, shape (replicates,).
    failing
        Scores of failing cases, shape (d, m), distributed as failures are.
    replicate
        Which replicate each of these belongs to, shape (m,).
    calls
        Model calls taken.
    """

    chances: Array
    failing: Array
    replicate: Indices
    calls: int


@dataclass(slots=True)
class _Visited:
    """States of chains that lie below a level, out of all that were visited."""

    scores: Array  # (d, m)
    distances: Array  # (m,)
    chain: Indices  # (m,)
    total: int

    @classmethod
    def gather(cls, parts: list[tuple[Array, Array, Indices]], total: int) -> _Visited:
        scores, distances, chain = zip(*parts, strict=True)
        return cls(np.concatenate(scores, axis=1), np.concatenate(distances), np.concatenate(chain), total)

    def below(self, level: float) -> _Visited:
        found = np.flatnonzero(self.distances < level)
        return _Visited(np.take(self.scores, found, axis=1), self.distances[found], self.chain[found], self.total)


class _Chains:
    """Chains that move together, one array call a move.

    A move draws each chain's next place from a normal law about the present one that leaves the standard normal law
    as it is (correlation ``sqrt(1 - step^2)``), and stays where it was if that lies outside the level or is an invalid
    case (Papaioannou et al. 2015, conditional sampling).
    """

    def __init__(self, watch: Watch, scores: Array, distances: Array, step: float) -> None:
        self.watch, self.step = watch, step
        self.scores, self.distances = scores, distances
        self._proposed, self._carried = np.empty_like(scores), np.empty_like(scores)

    def move(self, level: float, generator: Generator) -> float:
        """Move every chain below a level, and return the share that moved."""
        generator.standard_normal(out=self._proposed)
        self._proposed *= self.step
        np.multiply(self.scores, math.sqrt(1.0 - self.step**2), out=self._carried)
        self._proposed += self._carried
        distances = self.watch(self._proposed)
        moved = distances < level
        np.copyto(self.scores, self._proposed, where=moved)
        np.copyto(self.distances, distances, where=moved)
        return float(np.count_nonzero(moved)) / moved.size

    def visit(self, level: float, moves: int, keep: float, generator: Generator, *, steer: bool = False) -> _Visited:
        """Move below a level and keep the states that lie below another one."""
        kept = []
        for made in range(1, moves + 1):
            share = self.move(level, generator)
            if steer:
                self.step = min(1.0, self.step * math.exp((share - ACCEPTANCE) / math.sqrt(made)))
            kept.append(_taken(self.scores, self.distances, keep))
        return _Visited.gather(kept, moves * self.distances.size)


def _taken(scores: Array, distances: Array, keep: float) -> tuple[Array, Array, Indices]:
    found = np.flatnonzero(distances < keep)
    return np.take(scores, found, axis=1), distances[found], found


def _draw(watch: Watch, shape: tuple[int, int], rounds: int, keep: float, generator: Generator) -> _Visited:
    """Draw cases of the standard normal law, as many rounds of shape (d, n), and keep those below a level."""
    kept = []
    for _ in range(rounds):
        scores = generator.standard_normal(shape)
        kept.append(_taken(scores, watch(scores), keep))
    return _Visited.gather(kept, rounds * shape[1])


def _spread(found: int, wanted: int, shift: float) -> Indices:
    """Choose places among those found, each equally often on average (systematic resampling)."""
    chosen: Indices = ((np.arange(wanted) + shift) * (found / wanted)).astype(np.intp)
    return np.minimum(chosen, found - 1)


# ------------------------------------------------------------------------------------------------ the scout


def learn_ladder(watch: Watch, dimensions: int, generator: Generator) -> Ladder:
    """Send a scout that chooses levels and steps on its way to failure.

    Parameters
    ----------
    watch
        Distance from failure.
    dimensions
        Number of scores d.
    generator
        Where its draws come from.
    """
    return _Scout(watch, dimensions, generator).climb()


class _Scout:
    def __init__(self, watch: Watch, dimensions: int, generator: Generator) -> None:
        self.watch, self.generator = watch, generator
        self.levels: list[float] = []
        self.steps: list[float] = []
        self.chance, self.nearest, self.step = 1.0, math.inf, FIRST_STEP
        self.calls = 0
        self.seen = self._count(_draw(watch, (dimensions, SCOUT_CHAINS), SCOUT_MOVES, math.inf, generator))

    def climb(self) -> Ladder:
        while self.chance > FLOOR and len(self.levels) < MOST_LEVELS:
            level = _next_level(self.seen)
            if level is None:
                level = self._look_harder()
            if level is None:
                return self._ladder(flat=True)
            self._settle_below(level)
            if level == 0.0:
                break
            self.seen = self._walk(SCOUT_MOVES, math.inf)
            self.steps.append(self.step)
        return self._ladder(flat=False)

    def _settle_below(self, level: float) -> None:
        self.seen = self.seen.below(level)
        self.chance *= self.seen.distances.size / self.seen.total
        self.levels.append(level)

    def _walk(self, moves: int, keep: float) -> _Visited:
        """Walk below the last level from seeds among the states seen there, and keep those below another one."""
        level = self.levels[-1] if self.levels else math.inf
        seeds = _spread(self.seen.distances.size, SCOUT_CHAINS, self.generator.random())
        chains = _Chains(self.watch, np.take(self.seen.scores, seeds, axis=1), self.seen.distances[seeds], self.step)
        visited = chains.visit(level, moves, keep, self.generator, steer=True)
        self.step = chains.step
        return self._count(visited)

    def _look_harder(self) -> float | None:
        """Walk on where nearly all states are equally near, and keep the few that are nearer, if there are enough."""
        if self.seen.distances.size == 0:
            return None
        flat = _quantile(self.seen)
        nearer = self._walk(HARDER * SCOUT_MOVES, flat)
        if nearer.distances.size < FEW:
            return None
        self.seen = nearer
        return flat

    def _count(self, visited: _Visited) -> _Visited:
        self.calls += visited.total
        self.nearest = min(self.nearest, float(visited.distances.min(initial=math.inf)))
        return visited

    def _ladder(self, *, flat: bool) -> Ladder:
        return Ladder(tuple(self.levels), tuple(self.steps), self.chance, self.nearest, flat, self.calls)


def _quantile(seen: _Visited) -> float:
    place = min(int(SHARE * seen.total), seen.distances.size - 1)
    return float(np.partition(seen.distances, place)[place])


def _next_level(seen: _Visited) -> float | None:
    """Choose the next level, or None where too many states are equally near."""
    if seen.distances.size == 0:
        return None
    level, wanted = _quantile(seen), SHARE * seen.total
    if np.count_nonzero(seen.distances < 0.0) >= 0.5 * wanted:
        return 0.0
    if level > 0.0 and np.count_nonzero(seen.distances < level) >= 0.25 * wanted:
        return level
    # Distances in steps: the next one up, unless that would hardly shut anything out.
    further = float(np.min(seen.distances, where=seen.distances > level, initial=math.inf))
    share = np.count_nonzero(seen.distances < further) / seen.total
    return further if math.isfinite(further) and share <= LARGEST_SHARE else None


# ------------------------------------------------------------------------------------------------ the replicates


def calls_of_climb(ladder: Ladder) -> int:
    """Return the model calls one batch of replicates takes."""
    return len(ladder.levels) * REPLICATES * CHAINS * MOVES


def climb(watch: Watch, dimensions: int, ladder: Ladder, generator: Generator) -> Climb:
    """Climb a ladder that reaches failure with a batch of independent replicates.

    Parameters
    ----------
    watch, dimensions
        As for `learn_ladder`.
    ladder
        The levels and steps, learned from other draws.
    generator
        Where the draws come from.
    """
    first, *others = ladder.levels
    visited = _draw(watch, (dimensions, REPLICATES * CHAINS), MOVES, first, generator)
    chances, group = _shares(visited)
    for level, keep, step in zip(ladder.levels, others, ladder.steps, strict=False):
        if visited.distances.size == 0:
            break
        seeds = _seeds(group, generator)
        chains = _Chains(watch, np.take(visited.scores, seeds, axis=1), visited.distances[seeds], step)
        visited = chains.visit(level, MOVES, keep, generator)
        shares, group = _shares(visited)
        chances = chances * shares
    return Climb(chances, visited.scores, group, calls_of_climb(ladder))


def _shares(visited: _Visited) -> tuple[Array, Indices]:
    """Return the share of each replicate's states that lie below the level, and whose each of these is."""
    group = visited.chain // CHAINS
    return np.bincount(group, minlength=REPLICATES) / (CHAINS * MOVES), group


def _seeds(group: Indices, generator: Generator) -> Indices:
    """Choose where the chains of each replicate start: among its own states.

    A replicate without any has failed to climb and its estimate is 0 already; its chains start anywhere and count for
    nothing.
    """
    order = np.argsort(group, kind="stable")
    found = np.bincount(group, minlength=REPLICATES)
    begins = np.cumsum(found) - found
    shifts = generator.random(REPLICATES)
    chosen = [
        begin + _spread(count, CHAINS, shift) if count else np.zeros(CHAINS, dtype=np.intp)
        for begin, count, shift in zip(begins.tolist(), found.tolist(), shifts.tolist(), strict=True)
    ]
    seeds: Indices = order[np.concatenate(chosen)]
    return seeds
