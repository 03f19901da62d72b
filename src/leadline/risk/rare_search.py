"""The search for one failure: two methods, brute force where it does as well, and the judgement."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.random import Generator

from leadline.risk import words
from leadline.risk.proportion import exact_upper_bound
from leadline.risk.rare_answer import (
    DISAGREE,
    IMPRECISE,
    Pilot,
    RareEstimate,
    RareMethod,
    RareState,
    briefly,
    chance_text,
    contradicted,
    counted,
    disagree,
    from_replicates,
    needed_cases,
    said,
    variation_of_count,
)
from leadline.risk.rare_importance import Proposal, Weighed, calls_of_weighing, fit, weigh
from leadline.risk.rare_model import Array, Watch, in_pieces, stream
from leadline.risk.rare_subset import Climb, Ladder, calls_of_climb, climb, learn_ladder
from leadline.risk.words import Rounding

__all__ = ["Finding", "Search"]

SUBSET_PART: Final = 0.4  # of the calls allowed; as many are left for brute force in its place
IMPORTANCE_PART: Final = 0.2
ENOUGH: Final = 200  # effective failing cases below which importance sampling is not believed
HOPELESS: Final = 20  # and below which, after the first batch, it is given up
LARGEST_SHARE: Final = 0.1  # of an estimate that may hang on one case
OUTWEIGHED: Final = 100.0  # times the other estimate; an unbiased one exceeds so much with a chance of 1 % (Markov)

# First words of the addresses of draws; the pilot's is in leadline.risk.rare.
_SCOUT, _CLIMB, _FIT, _WEIGH, _COUNT = 1, 2, 3, 4, 5


@dataclass(frozen=True, slots=True)
class Finding:
    """What a search ended with: as `RareAnswer`, its sentence still without the label."""

    state: RareState
    sentence: str
    quoted: RareEstimate | None = None
    estimates: tuple[RareEstimate, ...] = ()


@dataclass(frozen=True, slots=True)
class _Second:
    """What importance sampling gave.

    Parameters
    ----------
    chance
        The chance, for what it is worth.
    trouble
        Why it is no estimate to rely on, if so.
    drawn
        The estimate as its own replicates state it.
    stated
        The same as the failing cases kept back from the fit state it too; the larger variation holds.
    """

    chance: float
    trouble: str
    drawn: RareEstimate | None = None
    stated: RareEstimate | None = None


@dataclass(frozen=True, slots=True)
class Search:
    """One search.

    Parameters
    ----------
    watch
        Distance from the failure.
    dimensions
        Number of scores d.
    place
        Which answer it is for; part of the address of its draws.
    pilot
        What the common pilot counted.
    seed, target, max_calls, confidence
        As for `rare_failures`.
    """

    watch: Watch
    dimensions: int
    place: int
    pilot: Pilot
    seed: int
    target: float
    max_calls: int
    confidence: float

    def run(self) -> Finding:
        """Search, and judge what was found."""
        ladder = learn_ladder(self.watch, self.dimensions, self._stream(_SCOUT))
        if not ladder.reached:
            return self._unreached(ladder)
        first, subset = self._subset(ladder)
        if subset is None:
            return self._unreached(ladder)
        second = self._importance(first, ladder.calls + first.calls)
        return self._in_place_of(self._judged(subset, second))

    def _stream(self, *address: int) -> Generator:
        kind, *rest = address
        return stream(self.seed, kind, self.place, *rest)

    # -------------------------------------------------------------------------------------------- the two methods

    def _subset(self, ladder: Ladder) -> tuple[Climb, RareEstimate | None]:
        """Climb until the target or the end of the calls, and return the first batch besides."""

        def more(batch: int) -> Climb:
            return climb(self.watch, self.dimensions, ladder, self._stream(_CLIMB, batch))

        most = int((SUBSET_PART * self.max_calls - ladder.calls) / calls_of_climb(ladder))
        climbs = [more(0)]
        chances = climbs[0].chances
        for batch in range(1, most):
            if _variation(chances) <= self.target:
                break
            climbs.append(more(batch))
            chances = np.concatenate((chances, climbs[-1].chances))
        calls = ladder.calls + sum(done.calls for done in climbs)
        return climbs[0], from_replicates(RareMethod.SUBSET, chances, self.confidence, calls)

    def _importance(self, found: Climb, learning: int) -> _Second:
        """Sample about the failing cases that were found with so many calls."""
        fitted = fit(found.failing, found.replicate, self._stream(_FIT))
        if fitted is None:
            return _Second(0.0, "too few failing cases to fit a proposal to")
        proposal, examined = fitted
        weighed = self._weigh(proposal)
        calls = learning + weighed.calls
        drawn = from_replicates(RareMethod.IMPORTANCE, weighed.chances, self.confidence, calls)
        if drawn is None:
            return _Second(0.0, "importance sampling met no failing case")
        if weighed.effective_cases < ENOUGH or weighed.largest_share > LARGEST_SHARE:
            few = f"{weighed.effective_cases:.0f} effective failing cases, which give {chance_text(drawn.probability)}"
            return _Second(drawn.probability, f"importance sampling has only {few}")
        least = math.sqrt(max(examined / drawn.probability - 1.0, 0.0) / weighed.calls)
        stated = from_replicates(RareMethod.IMPORTANCE, weighed.chances, self.confidence, calls, least_variation=least)
        return _Second(drawn.probability, "", drawn, stated)

    def _weigh(self, proposal: Proposal) -> Weighed:
        weighed = weigh(self.watch, proposal, self._stream(_WEIGH, 0))
        for batch in range(1, int(IMPORTANCE_PART * self.max_calls / calls_of_weighing())):
            effective = weighed.effective_cases
            if effective < HOPELESS or (_variation(weighed.chances) <= self.target and effective >= ENOUGH):
                break
            weighed = weighed.joined(weigh(self.watch, proposal, self._stream(_WEIGH, batch)))
        return weighed

    # -------------------------------------------------------------------------------------------- the judgement

    def _judged(self, subset: RareEstimate, second: _Second) -> Finding:
        estimates = (subset,) if second.stated is None else (subset, second.stated)
        best = min(estimates, key=lambda made: made.coefficient_of_variation)
        both = " and ".join(briefly(made) for made in estimates)
        against = self._against(subset, second, best)
        if against:
            return Finding(RareState.DISAGREE, f"the estimates disagree: {both}{against}", None, estimates)
        if best.coefficient_of_variation > IMPRECISE:
            sentence = f"no estimate is precise enough: {both}; more model calls are needed"
            return Finding(RareState.IMPRECISE, sentence, None, estimates)
        trouble = second.trouble or _coarse(estimates)
        others = "".join(f"; {briefly(made)}" for made in estimates if made is not best)
        check = f"; unchecked by a second method: {trouble}" if trouble else ", in agreement"
        state = RareState.UNCHECKED if trouble else RareState.AGREED
        return Finding(state, f"{said(best)}{others}{check}{self._short_of_target(best)}", best, estimates)

    def _against(self, subset: RareEstimate, second: _Second, best: RareEstimate) -> str:
        """Return what speaks against quoting the best estimate, or nothing."""
        if second.drawn is not None and disagree(subset, second.drawn):
            return "; neither is quoted"
        scatter = math.exp(min(DISAGREE * subset.coefficient_of_variation, 700.0))
        if second.chance > OUTWEIGHED * subset.probability * scatter:
            return f", but {second.trouble}"
        if contradicted(best, self.pilot):
            return f", but {self._pilot_seen()}"
        return ""

    def _pilot_seen(self) -> str:
        return f"{self.pilot.failures} failures in {words.count(self.pilot.cases)} pilot cases"

    def _short_of_target(self, estimate: RareEstimate) -> str:
        if estimate.coefficient_of_variation <= self.target:
            return ""
        return f"; the {words.level(self.target)} asked for were not reached within the calls allowed"

    def _in_place_of(self, finding: Finding) -> Finding:
        """Count instead, where as many model calls of brute force are as precise as the estimate to quote."""
        best = finding.quoted
        if best is None or variation_of_count(best.probability, best.calls) > best.coefficient_of_variation:
            return finding
        count = self._count(best.calls)
        if count.probability == 0.0:
            return finding
        return self._counted(count, finding.estimates)

    def _counted(self, count: RareEstimate, estimates: tuple[RareEstimate, ...]) -> Finding:
        others = "".join(f"; {briefly(made)}" for made in estimates)
        sentence = f"{said(count)}{others}{self._short_of_target(count)}"
        return Finding(RareState.COUNTED, sentence, count, (count, *estimates))

    def _count(self, cases: int) -> RareEstimate:
        generator, failures = self._stream(_COUNT), 0
        for size in in_pieces(cases):
            failures += _failures(self.watch(generator.standard_normal((self.dimensions, size))))
        return counted(failures, cases, self.confidence)

    def _unreached(self, ladder: Ladder) -> Finding:
        """Say that levels do not lead to failure; where the pilot met failures all the same, count."""
        if self.pilot.failures > 0:
            cases = min(self.max_calls, math.ceil(needed_cases(self.pilot.share, self.target)))
            count = self._count(cases)
            if count.probability > 0.0:
                return self._counted(count, ())
        most = exact_upper_bound(self.pilot.failures, self.pilot.cases, self.confidence)
        bound = f"{chance_text(most, Rounding.UP)} at {words.level(self.confidence)} confidence"
        sentence = f"no failure reached; {_why(ladder)}; {self._pilot_seen()} bound the chance by {bound}"
        return Finding(RareState.NOT_REACHED, sentence)


def _why(ladder: Ladder) -> str:
    if ladder.flat and not ladder.levels:
        return "the margin is the same in nearly all cases, so that nothing leads towards failure"
    if ladder.flat:
        return f"the margin comes no closer to 0 than {ladder.nearest:.3g} of its standard deviations"
    return f"at a chance of {chance_text(ladder.chance)} it is still {ladder.nearest:.3g} standard deviations from 0"


def _coarse(estimates: tuple[RareEstimate, ...]) -> str:
    """Say that one of the estimates is too coarse to check the other, if so."""
    return "that is too coarse" if max(made.coefficient_of_variation for made in estimates) > IMPRECISE else ""


def _failures(distances: Array) -> int:
    return int(np.count_nonzero(distances < 0.0))


def _variation(chances: Array) -> float:
    """Coefficient of variation of the mean of independent estimates."""
    mean = float(chances.mean())
    return float(chances.std(ddof=1)) / (mean * math.sqrt(chances.size)) if mean > 0.0 else math.inf
