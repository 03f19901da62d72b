"""The value of one number for which the wanted chance is shown.

Every value is tried on the same draws, so the successes are a step function of the number, without
noise between one value and the next, and where they cross a count can be found by bracketing. If
success can only be gained as the number grows, each case has a least value that lets it succeed;
the answer is then an order statistic of these, and no less than the true value with the asked
confidence, exactly (S. S. Wilks, Annals of Mathematical Statistics 12 (1941) 91). Where success can
be lost again, the edges are found in the same way; with two normal limits and 90 % asked, the answer
fell short of the wanted chance in 6 to 9 % of 1000 seeds.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from leadline.risk import words
from leadline.risk.acceptance import Judgement, Verdict, judge, smallest_sample
from leadline.risk.proportion import Interval, exact_lower_bound, exact_upper_bound
from leadline.risk.sizing_search import Counts, Levels, Prefer, Question, Search, balance, climb, loose_end
from leadline.risk.words import Rounding

__all__ = ["Cap", "Counts", "Prefer", "Question", "Sizing", "Wording", "size"]


@dataclass(frozen=True, slots=True)
class Wording:
    """How the sentence speaks of the number: its name, its values with their unit, the requirements' names."""

    subject: str
    words: Callable[[float], str]
    requirements: Sequence[str]


@dataclass(frozen=True, slots=True)
class Cap:
    """The requirement that holds the chance down at the best value, and the chance without it."""

    requirement: int
    failures: int
    chance_without: Interval


@dataclass(frozen=True, slots=True, eq=False)
class Sizing:
    """Where the wanted chance is shown, and what stands in the way.

    Parameters
    ----------
    question
        What was asked.
    met
        Ranges of the number, in order, whose tried values all show the chance; their ends were
        tried, and lie within the resolution of the edge unless the budget ran out.
    answer
        The preferred value that shows the chance; None when none does.
    best
        The tried value with most successes.
    chance, judgement
        At the answer, or at the best value; each bound of `chance` holds with the asked confidence.
    likely, at_best
        Where, going on outward from there, the plain estimate and the upper bound cross the wanted
        chance; None where they do not cross it inside the range.
    resolution
        How far from the answer a value that does not show it was tried; 0 at an end of the range.
    limits
        The requirements that most cases fail just below and just above the range of the answer;
        None at an end of what was looked at.
    cap
        What holds the chance down at the best value; None if no case fails there.
    points
        Every value tried with its counts, in order.
    sentence
        The answer in words.
    """

    question: Question
    met: tuple[tuple[float, float], ...]
    answer: float | None
    best: float
    chance: Interval
    judgement: Judgement
    likely: float | None
    at_best: float | None
    resolution: float
    limits: tuple[int | None, int | None]
    cap: Cap | None
    points: tuple[tuple[float, Counts], ...]
    sentence: str

    @property
    def at(self) -> float:
        """The answer, or the best value where there is none."""
        return self.best if self.answer is None else self.answer

    @property
    def calls(self) -> int:
        """How many values were tried."""
        return len(self.points)


def size(counts: Callable[[float], Counts], question: Question, wording: Wording) -> Sizing:
    """Find the value of a number for which the wanted chance is shown.

    Parameters
    ----------
    counts
        How the cases end for a value of the number, on the same draws for every value.
    question
        Range, wanted chance, confidence, and how hard to look.
    wording
        For the sentence.

    Returns
    -------
    Sizing
        A range that meets what was asked can go unseen if it lies between two values of the grid
        and another range meets it too; when none does, the best value is sought.

    Raises
    ------
    ValueError
        If the values are not tried on equally many cases, or counts are impossible.
    """
    search = Search(counts, question)
    levels = Levels.of(search.cases, question.chance, question.confidence)
    if not search.runs(levels.shown):
        balance(search)
        climb(search, levels.shown)
    start = _place(search, levels.shown)
    for level in (levels.shown, levels.likely, levels.at_best):
        if search.succeeded(start) >= level:
            search.close_in(level, start, question.outward)
    while (loose := loose_end(search, levels.shown)) and search.left:
        search.close_in(levels.shown, *loose)
    return _result(search, levels, wording)


def _place(search: Search, shown: int) -> float:
    """Give the preferred value that shows the chance, or the best."""
    runs = search.runs(shown)
    if not runs:
        return search.best
    return runs[0][0] if search.question.prefer is Prefer.SMALLEST else runs[-1][1]


def _result(search: Search, levels: Levels, wording: Wording) -> Sizing:
    question, place, best = search.question, _place(search, levels.shown), search.best
    met = tuple(search.runs(levels.shown))
    edge = search.edge(levels.shown, place, question.outward) if met else None
    here = search.tried[place]
    parts = Sizing(
        question=question,
        met=met,
        answer=place if met else None,
        best=best,
        chance=_interval(here.succeeded, here.cases, question.confidence),
        judgement=judge(here.succeeded, here.cases, question.chance, question.confidence),
        likely=_crossing(search, levels.likely, place),
        at_best=_crossing(search, levels.at_best, place),
        resolution=0.0 if edge is None else abs(edge[0] - edge[1]),
        limits=(_limit(search, levels, place, -1), _limit(search, levels, place, 1)) if met else (None, None),
        cap=_cap(search.tried[best], question.confidence),
        points=tuple(sorted(search.tried.items())),
        sentence="",
    )
    return replace(parts, sentence=_sentence(parts, wording))


def _interval(succeeded: int, cases: int, one_side: float) -> Interval:
    """Give a chance with the one-sided bounds that it is judged by."""
    return Interval(
        succeeded / cases,
        exact_lower_bound(succeeded, cases, one_side),
        exact_upper_bound(succeeded, cases, one_side),
        max(2.0 * one_side - 1.0, 0.0),
        f"Clopper-Pearson exact bounds for independent cases, each with at least {words.level(one_side)} confidence",
    )


def _crossing(search: Search, level: int, start: float) -> float | None:
    """Read off where the successes cross a level, going outward: between two tried values by interpolation."""
    edge = search.edge(level, start, search.question.outward) if search.succeeded(start) >= level else None
    if edge is None:
        return None
    outside, inside = edge
    below, above = search.height(outside, level), search.height(inside, level)
    return inside if search.question.whole else outside + (inside - outside) * below / (below - above)


def _limit(search: Search, levels: Levels, start: float, way: int) -> int | None:
    edge = search.edge(levels.shown, start, way)
    return None if edge is None else search.tried[edge[0]].worst


def _cap(best: Counts, confidence: float) -> Cap | None:
    worst = best.worst
    if worst is None:
        return None
    without = best.succeeded + int(best.alone_failures[worst])
    failures = int(best.failures_by_requirement[worst])
    return Cap(worst, failures, _interval(without, best.cases, confidence))


def _sentence(found: Sizing, wording: Wording) -> str:
    return _answer_words(found, wording) if found.met else _none_words(found, wording)


def _answer_words(found: Sizing, wording: Wording) -> str:
    question, cases = found.question, found.points[0][1].cases
    wanted = words.level(question.chance)
    said = (
        f"{wording.subject} {_ranges(found, wording)} for {wanted} with {words.level(question.confidence)} confidence: "
        f"at {wording.words(found.at)}, {words.count(cases)} cases give "
        f"{words.share(found.chance.value)} (at least {words.share(found.chance.low, Rounding.DOWN)})"
    )
    return f"{said}{_uncertainty(found, wording)}{_limits(found, wording)}."


def _ranges(found: Sizing, wording: Wording) -> str:
    (low, high), ends = found.met[0], found.question.ends
    if len(found.met) > 1:
        return "must lie " + " or ".join(f"between {wording.words(a)} and {wording.words(b)}" for a, b in found.met)
    if (low, high) == ends:
        return f"may take any value from {wording.words(low)} to {wording.words(high)}"
    if high == ends[1]:
        return f"must be at least {wording.words(low)}"
    if low == ends[0]:
        return f"may be at most {wording.words(high)}"
    if low == high:
        return f"must be {wording.words(low)}"
    return f"must lie between {wording.words(low)} and {wording.words(high)}"


def _uncertainty(found: Sizing, wording: Wording) -> str:
    """Say how much nearer the edge may lie: the price of finitely many cases."""
    if found.likely is None:
        return ""
    likely = f"; the plain estimate reaches {words.level(found.question.chance)} at {wording.words(found.likely)}"
    if found.at_best is None:
        return likely
    return f"{likely}, and the cases do not rule out {wording.words(found.at_best)}"


def _limits(found: Sizing, wording: Wording) -> str:
    sides = zip(("below", "above"), found.limits, strict=True)
    said = [f"just {side}, {wording.requirements[limit]} fails most" for side, limit in sides if limit is not None]
    return "".join(f"; {each}" for each in said)


def _none_words(found: Sizing, wording: Wording) -> str:
    question, cases = found.question, found.points[0][1].cases
    low, high = (wording.words(end) for end in question.ends)
    chance = found.chance
    said = (
        f"{wording.subject}: no value from {low} to {high} that was tried shows {words.level(question.chance)} with "
        f"{words.level(question.confidence)} confidence; the best is {wording.words(found.best)} with "
        f"{words.share(chance.value)} ({words.share(chance.low, Rounding.DOWN)} to "
        f"{words.share(chance.high, Rounding.UP)}) of {words.count(cases)} cases"
    )
    return f"{said}{_cap_words(found, wording)}{_uncertainty(found, wording)}{_open_words(found, cases)}."


def _cap_words(found: Sizing, wording: Wording) -> str:
    if found.cap is None:
        return ""
    name, without = wording.requirements[found.cap.requirement], found.cap.chance_without.value
    return f"; there {name} fails most, and without it the chance would be {words.share(without)}"


def _open_words(found: Sizing, cases: int) -> str:
    """Say when it is the cases that are too few."""
    if found.judgement.verdict is not Verdict.UNDECIDED:
        return ""
    needed = smallest_sample(found.question.chance, found.question.confidence)
    few = f" (without any failure it takes {words.count(needed)})" if cases < needed else ""
    return f"; more cases than these could show it{few}"
