"""Why laws or their dependence were refused, with the evidence as attributes.

SamplingError
├── LawError            a parameter of a law is out of its bounds
└── DependenceError     rank correlations that cannot hold together
"""

from __future__ import annotations

from leadline.errors import SamplingError

__all__ = ["DependenceError", "LawError"]


class LawError(SamplingError):
    """A parameter of a law is out of its bounds.

    Parameters
    ----------
    law
        Kind of the law, such as ``triangular``.
    field
        The parameter at fault.
    bound
        What it must be, as words that follow "must".
    value
        What was given.
    remedy
        What to write instead, as a sentence.
    """

    def __init__(self, law: str, field: str, bound: str, value: object, remedy: str) -> None:
        self.law = law
        self.field = field
        self.bound = bound
        self.value = value
        self.remedy = remedy
        super().__init__(f"{law} law: {field} must {bound}, not {_brief(value)}. {remedy}")

    def __reduce__(self) -> tuple[type[LawError], tuple[str, str, str, object, str]]:
        return type(self), (self.law, self.field, self.bound, self.value, self.remedy)


class DependenceError(SamplingError):
    """Rank correlations that cannot hold together, or that make no sense one by one.

    Parameters
    ----------
    pair
        Names of the two inputs whose correlation to change.
    asked
        The rank correlation given for them; 0 for a pair that was left unsaid.
    nearest
        The nearest rank correlation that works with all others kept, or None where
        changing this pair alone is not enough.
    problem, remedy
        What is wrong and what to write instead, as sentences.
    """

    def __init__(
        self,
        pair: tuple[str, str],
        asked: float,
        nearest: float | None,
        problem: str,
        remedy: str,
    ) -> None:
        self.pair = pair
        self.asked = asked
        self.nearest = nearest
        self.problem = problem
        self.remedy = remedy
        super().__init__(f"{problem} {remedy}")

    def __reduce__(
        self,
    ) -> tuple[type[DependenceError], tuple[tuple[str, str], float, float | None, str, str]]:
        arguments = (self.pair, self.asked, self.nearest, self.problem, self.remedy)
        return type(self), arguments


def _brief(value: object) -> str:
    text = repr(value)
    return text if len(text) <= 80 else f"{text[:77]}..."
