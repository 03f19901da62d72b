"""A made result: the shape of a real one, from known margins, without running anything."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from leadline.run.result import (
    QUANTILES,
    Band,
    Cases,
    Chance,
    Combination,
    CompareResult,
    Difference,
    FirstFailure,
    HistogramBins,
    InputSummary,
    JudgementResult,
    LedgerBand,
    MarginSummary,
    OptionChance,
    OptionResult,
    Provenance,
    Quantile,
    RequirementResult,
    Result,
    StudyLabel,
)

Array = npt.NDArray[np.float64]

CASES = 20_000
METHOD = "exact binomial (Clopper-Pearson)"


def made_chance(value: float, cases: int = CASES) -> Chance:
    half = 1.645 * (value * (1 - value) / cases) ** 0.5 + 0.5 / cases
    low, high = max(value - half, 0.0), min(value + half, 1.0)
    return Chance(value=value, low=low, high=high, confidence=0.9, method=METHOD)


def made_histogram(margins: Array, bars: int = 240) -> HistogramBins:
    """Bins with an edge at zero, where zero is inside."""
    low, high = float(margins.min()), float(margins.max())
    width = (high - low) / (bars - 1) or 1e-9
    start = np.floor(low / width) * width
    counts, _ = np.histogram(margins, bins=start + width * np.arange(bars + 1))
    inside = int(counts.sum())
    return HistogramBins(
        start=float(start), width=width, counts=tuple(counts.tolist()), under=0, over=len(margins) - inside
    )


def made_margin(margins: Array) -> MarginSummary:
    quantiles = tuple(
        Quantile(p=p, value=value, low=None if p < 0.01 else value - 2.0, high=value + 2.0)
        for p, value in zip(QUANTILES, np.quantile(margins, QUANTILES).tolist(), strict=True)
    )
    return MarginSummary(
        mean=float(margins.mean()),
        sd=float(margins.std()),
        low=float(margins.min()),
        high=float(margins.max()),
        quantiles=quantiles,
        histogram=made_histogram(margins),
    )


def made_requirement(name: str, kind: str, unit: str, sentence: str, margins: Array) -> RequirementResult:
    held = made_chance(float((margins >= 0).mean()))
    return RequirementResult(
        name=name, kind=kind, unit=unit, sentence=sentence, chance=held, margin=made_margin(margins)
    )


def made_margins(seed: int = 1) -> dict[str, Array]:
    rng = np.random.default_rng(seed)
    return {
        "reserve": 620.0 + 640.0 * rng.standard_normal(CASES),
        "fits": 9.4 + 2.1 * rng.standard_normal(CASES),
        "on time": 86_400 * (9.0 - rng.gamma(2.2, 2.4, CASES)),
        "lift": 4_900.0 + 260.0 * rng.standard_normal(CASES),
    }


def made_requirements(margins: dict[str, Array]) -> tuple[RequirementResult, ...]:
    about = {
        "reserve": ("propellant", "kg", "at least 0.9 t burnable in saddle.main after return"),
        "fits": ("fill", "m3", "what is loaded into saddle.main fits its volume with 4 % ullage"),
        "on time": ("elapsed", "s", "the mission is over within 60 d"),
        "lift": ("lifted", "kg", "no launch carries more than 38 t"),
    }
    return tuple(made_requirement(name, *about[name], margins[name]) for name in margins)


def made_band(middle: float, spread: float) -> Band:
    return Band(p5=middle - 1.645 * spread, p50=middle, p95=middle + 1.645 * spread)


LEGS = (
    ("start", "start", 74.4, 50.0, 0.0, 0.5),
    ("fill at Skerry depot", "refuel", 96.1, 71.2, 21.0, 1.2),
    ("departure", "burn", 51.3, 27.1, 21.2, 1.1),
    ("outbound", "coast", 50.7, 26.4, 25.2, 1.3),
    ("loose capture", "burn", 43.0, 18.9, 25.3, 1.2),
    ("at the outpost", "coast", 42.2, 18.0, 39.0, 1.6),
    ("drop the saddle", "drop", 36.1, 18.0, 39.0, 1.6),
    ("return", "burn", 20.3, 1.5, 39.1, 0.64),
)


def made_ledger() -> tuple[LedgerBand, ...]:
    return tuple(
        LedgerBand(
            leg=leg,
            kind=kind,
            mass_kg=made_band(1e3 * mass, 1e3 * spread),
            propellant_kg={
                "saddle.main": made_band(1e3 * left, 900 * spread),
                "tern.trim": made_band(1_400.0 - 150 * number, 20.0 + 9 * number),
            },
            elapsed_s=made_band(86_400 * days, 0.05 * 86_400 * days),
            quantities={},
        )
        for number, (leg, kind, mass, left, days, spread) in enumerate(LEGS)
    )


def made_provenance() -> Provenance:
    return Provenance(
        versions={"leadline": "0.1.0", "numpy": "2.4.0", "scipy": "1.17.0"},
        python="3.11.7",
        platform="Linux x86_64",
        cpu_features=("AVX2", "FMA3"),
        block_size=16_384,
        blocks=((0, 2),),
        last_block_cases=3_616,
        pilot_cases=4_096,
        generator="SFC64",
    )


INPUTS = (
    ("vehicle.tern.dry_mass", {"law": "normal", "mean": 18_400.0, "sd": 500.0}, 18_400.0, 500.0),
    ("vehicle.tern.engines.main.isp", {"law": "normal", "mean": 447.0, "sd": 1.6}, 447.0, 1.6),
    ("vehicle.saddle.dry_mass", {"law": "triangular", "low": 5400.0, "likely": 5900.0, "high": 7100.0}, 6133.0, 362.0),
    ("vehicle.saddle.tanks.main.heat_leak", {"law": "lognormal", "median": 240.0, "spread": 1.35}, 251.0, 77.0),
    ("legs.return.cost", {"law": "empirical", "values": [float(v) for v in range(880, 940)]}, 909.5, 17.3),
)


def made_failures(margins: dict[str, Array]) -> tuple[tuple[FirstFailure, ...], tuple[Combination, ...], int]:
    late, short, full = (margins[name] < 0 for name in ("on time", "reserve", "fits"))
    failed = int((late | short | full).sum())

    def first(requirement: str, leg: str | None, mask: npt.NDArray[np.bool_]) -> FirstFailure:
        cases = int(mask.sum())
        return FirstFailure(requirement=requirement, leg=leg, share=cases / failed, cases=cases)

    def together(names: Sequence[str], mask: npt.NDArray[np.bool_]) -> Combination:
        cases = int(mask.sum())
        return Combination(requirements=tuple(names), share=cases / failed, cases=cases)

    firsts = (
        first("reserve", "return", short & ~late & ~full),
        first("on time", "at the outpost", late & ~full),
        first("fits", None, full),
    )
    combinations = (
        together(["reserve"], short & ~late & ~full),
        together(["on time"], late & ~short & ~full),
        together(["reserve", "on time"], late & short & ~full),
        together(["fits"], full),
    )
    return firsts, combinations, failed


def made_result(**changes: object) -> Result:
    """Return a result whose parts agree with one another; `changes` replaces top-level parts."""
    margins = made_margins()
    firsts, combinations, failed = made_failures(margins)
    closes = CASES - failed
    chance = made_chance(closes / CASES)
    parts: dict[str, object] = {
        "study": StudyLabel(title="Tern to the polar outpost and back", digest="3f" * 32, option=None),
        "seed": 7,
        "design": "independent",
        "partial": False,
        "cases": Cases(total=CASES, succeeded=closes, failed=failed, invalid=0),
        "chance": chance,
        "requirements": made_requirements(margins),
        "first_failures": firsts,
        "combinations": combinations,
        "judgement": JudgementResult(
            asked=0.95,
            confidence=0.9,
            verdict="no",
            more_cases=None,
            sentence="A chance of 95 % is not shown at 90 % confidence: the interval lies below it.",
        ),
        "ledger": made_ledger(),
        "ledger_cases": 2_000,
        "inputs": tuple(InputSummary(name=n, law=law, mean=m, sd=s) for n, law, m, s in INPUTS),
        "notes": ("legs.return.cost: 60 values read from the data column.",),
        "limits": ("Burns are impulsive; gravity loss is not included.", "Each liquid boils off on its own."),
        "sources": (
            "3rd General Conference on Weights and Measures, 1901, standard acceleration of gravity (published)",
        ),
        "provenance": made_provenance(),
        "sentence": f"It closes in {100 * chance.value:.1f} of 100 cases "
        f"({100 * chance.low:.1f} to {100 * chance.high:.1f}, 90 %); on time gives way first, at the outpost.",
    }
    return Result.model_validate({**parts, **changes})


def made_option(name: str | None, value: float, base: float) -> OptionResult:
    closes = round(CASES * value)
    plus = value - base
    difference = Difference(
        value=plus,
        low=plus - 0.004,
        high=plus + 0.004,
        confidence=0.9,
        method="paired",
        both=round(CASES * min(value, base)),
        option_only=round(CASES * max(plus, 0)),
        base_only=round(CASES * max(-plus, 0)),
        neither=CASES - round(CASES * max(value, base)),
    )
    return OptionResult(
        name=name,
        digest="ab" * 32,
        cases=Cases(total=CASES, succeeded=closes, failed=CASES - closes, invalid=0),
        chance=made_chance(value),
        requirements=tuple(OptionChance(name=n, chance=made_chance(value**0.5)) for n in ("reserve", "on time")),
        first_failure=FirstFailure(requirement="reserve", leg="return", share=0.61, cases=10),
        difference=None if name is None else difference,
        sentence=f"{name or 'As written'}: it closes in {100 * value:.1f} of 100 cases.",
    )


def made_comparison(names: Sequence[str] = ("storable hold tanks", "one more tanker")) -> CompareResult:
    options = tuple(made_option(name, value, 0.741) for name, value in zip(names, (0.118, 0.902, 0.74), strict=False))
    return CompareResult(
        study=StudyLabel(title="Tern to the polar outpost and back", digest="3f" * 32),
        seed=7,
        design="independent",
        partial=False,
        options=(made_option(None, 0.741, 0.741), *options),
        notes=("Options share the draws of every input they have in common.",),
        limits=("Burns are impulsive; gravity loss is not included.",),
        provenance=made_provenance(),
        sentence="One more tanker closes in 90.2 of 100 cases, 16.1 points more than the base study.",
    )
