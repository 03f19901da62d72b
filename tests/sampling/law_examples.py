"""Laws for tests: one strategy for each kind, and fixed ones."""

from __future__ import annotations

from hypothesis import strategies as st

from leadline.sampling import (
    Clipped,
    Discrete,
    Empirical,
    Law,
    Lognormal,
    Normal,
    Pert,
    Triangular,
    TruncatedNormal,
    Uniform,
)

_centre = st.floats(-100.0, 100.0)
_width = st.floats(1.0, 1000.0)
_share = st.floats(0.0, 1.0)

normals = st.builds(Normal, _centre, _width)
lognormals = st.builds(Lognormal, st.floats(1e-3, 1e3), st.floats(1.01, 5.0))
uniforms = st.builds(lambda low, width: Uniform(low, low + width), _centre, _width)


def _on_range(kind: type[Triangular | Pert]) -> st.SearchStrategy[Law]:
    def build(low: float, width: float, share: float) -> Law:
        return kind(low, min(low + share * width, low + width), low + width)

    return st.builds(build, _centre, _width, _share)


def _cut(mean: float, sd: float, start: float, length: float) -> Law:
    # The far end stays within reach, so that the bounds keep more than a millionth of the law.
    end = max(start + length, -4.0)
    return TruncatedNormal(mean, sd, mean + start * sd, mean + end * sd)


def _listed(values: list[float], weights: list[int]) -> Law:
    pairs = list(zip(values, weights, strict=False))
    total = sum(weight for _, weight in pairs)
    return Discrete(tuple(v for v, _ in pairs), tuple(w / total for _, w in pairs))


triangulars = _on_range(Triangular)
perts = _on_range(Pert)
truncated = st.builds(_cut, _centre, _width, st.floats(-8.0, 3.5), st.floats(0.01, 12.0))
discretes = st.builds(
    _listed,
    st.lists(_centre, min_size=1, max_size=6),
    st.lists(st.integers(1, 1000), min_size=6, max_size=6),
)
empiricals = st.builds(Empirical, st.lists(_centre, min_size=2, max_size=40).map(tuple))
clipped = st.builds(
    lambda law, start, length: Clipped(law, law.mean + start * law.sd, law.mean + (start + length) * law.sd),
    normals,
    st.floats(-6.0, 1.0),
    st.floats(0.5, 8.0),
)

smooth = st.one_of(normals, lognormals, uniforms, triangulars, perts, truncated)
stepped = st.one_of(discretes, empiricals)
any_law = st.one_of(smooth, stepped, clipped)

ONE_OF_EACH: tuple[Law, ...] = (
    Normal(18.4, 0.5),
    TruncatedNormal(320.0, 3.0, 314.0, 323.0),
    TruncatedNormal(100.0, 10.0, low=85.0),
    Lognormal(240.0, 1.35),
    Uniform(-1.0, 3.0),
    Triangular(5.4, 5.9, 7.1),
    Pert(5.0, 8.0, 16.0),
    Pert(0.0, 0.0, 1.0, weight=2.5),
    Discrete((1.0, 0.0), (0.996, 0.004)),
    Empirical((3.0, 1.0, 2.0, 2.0)),
    Clipped(Normal(5.0, 1.0), low=0.0),
)
"""At least one law of each kind, with open and closed bounds."""
