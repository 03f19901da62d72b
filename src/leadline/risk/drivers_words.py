"""What is said about drivers in words: why indices are absent, what cannot be told from zero, what was left out."""

from __future__ import annotations

from leadline.risk import words
from leadline.risk.drivers_sums import GROUPS

__all__ = ["constant", "left_out", "method", "no_cases", "rare", "seldom_varies", "too_few_valid", "unsure"]


def method(confidence: float, *, widened: bool) -> str:
    """Name the rule behind an index's interval."""
    rule = (
        f"t interval from the jackknife that leaves out one of {GROUPS} groups of cases at a time "
        f"({GROUPS - 1} degrees of freedom), {words.level(confidence)} confidence"
    )
    if not widened:
        return rule
    return f"{rule}, widened to the Clopper-Pearson interval of the pairs that differ, since few do or few agree"


def no_cases() -> str:
    """Say that nothing was evaluated."""
    return "No case was evaluated, so there are no indices."


def too_few_valid(valid: int, cases: int) -> str:
    """Say that too few pairs of cases are valid."""
    return (
        f"Only {words.count(valid)} of {words.count(cases)} pairs of cases are valid, and each of {GROUPS} groups of "
        "cases needs one. Evaluate more cases, or find out why they are invalid."
    )


def constant(output: str) -> str:
    """Say that an output does not vary."""
    return f"{output} is the same in every case: there is no variance to share out among inputs."


def seldom_varies(output: str) -> str:
    """Say that an output varies in too few cases for an interval."""
    return f"{output} varies in too few cases for an index. Evaluate more cases."


def rare(output: str, failures: int, cases: int, least: int) -> str:
    """Say that failures, or successes, are too few for indices of failure."""
    few, what = min((failures, "failed"), (cases - failures, "was met"))
    return (
        f"{output} {what} in {words.count(few)} of {words.count(cases)} cases; indices of failure need at least "
        f"{least} such cases. Evaluate more cases."
    )


def unsure(name: str, output: str, changed: bool, cases: int) -> str:  # noqa: FBT001 - what was seen, not an option
    """Say that an input's effect cannot be told from zero."""
    if not changed:
        return f"{name} changed {output} in none of {words.count(cases)} cases."
    return f"The effect of {name} on {output} cannot be told from zero with {words.count(cases)} cases."


def left_out(invalid: int, evaluations: int, pairs: int) -> str:
    """Say how much was left out as invalid."""
    return (
        f"{words.count(invalid)} of {words.count(evaluations)} evaluations gave a margin that is not finite. The pairs "
        f"of cases they belong to are left out, at most {words.count(pairs)} for one input, and the indices describe "
        "the valid cases only."
    )
