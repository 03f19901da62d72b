"""Made answers about risk: the shape of real ones, from chosen numbers, without running anything."""

from __future__ import annotations

from collections.abc import Sequence

from leadline.run.answer_files import Answers
from leadline.run.answers import (
    BuyDownRow,
    DriverRow,
    DriversOf,
    DriversResult,
    NumberLabel,
    RareEstimateResult,
    RareFailure,
    RareResult,
    ShapleyOf,
    ShapleyRow,
    SizingPoint,
    SizingResult,
    SweepAxis,
    SweepResult,
)
from leadline.run.document import Chance, StudyLabel
from leadline.run.first_result import ShareRow, SharesOf, ShiftRow, ShiftsOf, UnknownQuantile, UnknownsResult
from leadline.run.result import Result
from report.made import made_chance, made_result

STUDY = StudyLabel(title="Tern to the polar outpost and back", digest="3f" * 32, option=None)
NUMBERS = ("the heat leak (fuel) of saddle.main", "the dry mass of tern", "the cost of return", "the duration of wait")
LIMITS = ("Burns are impulsive; gravity loss is not included.",)


def made_interval(value: float, half: float) -> Chance:
    return Chance(value=value, low=value - half, high=value + half, confidence=0.95, method="made")


def made_buy_down(names: Sequence[str] = NUMBERS) -> tuple[BuyDownRow, ...]:
    rows = []
    for name, start in zip(names, (0.04, 0.02, 0.008, 0.0), strict=False):
        for change, gain in ((f"fixing {name} at its middle", start), (f"halving the spread of {name}", 0.8 * start)):
            rows.append(
                BuyDownRow(
                    input=name,
                    called=name,
                    change=change,
                    chance=made_chance(0.75 + gain),
                    gain=made_interval(gain, 0.001),
                    distinguishable=gain > 0.001,
                    rank=(1, 3) if gain > 0.01 else (4, 8),
                    sentence=f"{change[:1].upper()}{change[1:]} buys {100 * gain:+.1f} points.",
                )
            )
    return tuple(sorted(rows, key=lambda row: -row.gain.value))


def made_drivers_of(output: str, kind: str, names: Sequence[str] = NUMBERS, reason: str | None = None) -> DriversOf:
    rows = [
        DriverRow(
            input=name,
            called=name,
            first=made_interval(0.3 * total, 0.01),
            total=made_interval(total, 0.015),
            rank=(place, place, min(place + 1, 4)),
            distinguishable=total > 0.02,
            remark="" if total > 0.02 else "It cannot be told from zero.",
        )
        for place, (name, total) in enumerate(zip(names, (0.7, 0.3, 0.1, 0.0), strict=False), start=1)
    ]
    return DriversOf.model_validate(
        {
            "output": output,
            "kind": kind,
            "drivers": () if reason else tuple(rows),
            "failures": 5_600 if kind == "failure" else None,
            "reason": reason,
        }
    )


def made_shifts(names: Sequence[str] = NUMBERS) -> tuple[ShiftsOf, ...]:
    rows = tuple(
        ShiftRow.model_validate(
            {
                "input": name,
                "called": name,
                "direction": "higher" if shift >= 0 else "lower",
                "shift": made_interval(shift, 0.05),
                "probability": made_interval(0.5 + 0.2 * abs(shift), 0.02),
                "distinguishable": abs(shift) > 0.05,
            }
        )
        for name, shift in zip(names, (0.9, -0.4, 0.2, 0.0), strict=False)
    )
    few = ShiftsOf(output="fits", failures=2, cases=16_384, shifts=(), reason="Only 2 cases fail it.")
    reserve = ShiftsOf(output="reserve", failures=900, cases=16_384, shifts=rows, reason=None)
    whole = ShiftsOf(output="any requirement", failures=4_100, cases=16_384, shifts=rows, reason=None)
    return few, reserve, whole


def made_shares(names: Sequence[str] = NUMBERS) -> tuple[SharesOf, ...]:
    rows = tuple(
        ShareRow(input=name, called=name, share=made_interval(share, 0.02), distinguishable=share > 0.02)
        for name, share in zip(names, (0.6, 0.3, 0.08, 0.0), strict=False)
    )
    still = SharesOf(output="fits", cases=16_384, shares=(), reason="The margin did not vary.")
    return SharesOf(output="reserve", cases=16_384, shares=rows, reason=None), still


def made_shapley(names: Sequence[str] = NUMBERS) -> tuple[ShapleyOf, ...]:
    rows = tuple(
        ShapleyRow(input=name, effect=made_interval(effect, 0.02), distinguishable=effect > 0.02)
        for name, effect in zip(names, (0.2, 0.5, 0.3, 0.0), strict=False)
    )
    return (ShapleyOf(output="any requirement", kind="failure", effects=rows, reason=None),)


def made_drivers(names: Sequence[str] = NUMBERS) -> DriversResult:
    outputs = (
        made_drivers_of("reserve", "margin", names),
        made_drivers_of("fits", "margin", names, "fits is the same in every case: there is no variance."),
        made_drivers_of("reserve", "failure", names),
        made_drivers_of("fits", "failure", names, "fits failed in 0 of 32 768 cases."),
        made_drivers_of("any requirement", "failure", names),
    )
    return DriversResult(
        study=STUDY,
        seed=7,
        partial=False,
        chance=made_chance(0.75),
        cases=16_384,
        evaluations=98_304,
        outputs=outputs,
        shift_cases=16_384,
        shifts=made_shifts(names),
        shapley=made_shapley(names),
        buy_down_cases=100_000,
        buy_down=made_buy_down(names),
        notes=("Two of them depend on one another.",),
        limits=LIMITS,
        sentence="Tern to the polar outpost and back: halving one spread buys +3.2 points (3.1-3.3).",
    )


def made_number(called: str = "the load of saddle.main", place: str = "vehicle.saddle.tanks.main.load") -> NumberLabel:
    return NumberLabel(place=place, called=called, unit="kg")


def made_sizing(answer: float | None = 39_000.0, called: str = "the load of saddle.main") -> SizingResult:
    chances = {36_000.0: 0.2, 38_000.0: 0.85, 39_000.0: 0.955, 40_000.0: 0.97, 42_000.0: 0.4}
    points = tuple(
        SizingPoint(
            value=value,
            cases=10_000,
            succeeded=round(10_000 * chance),
            invalid=0,
            low=chance - 0.004,
            high=chance + 0.004,
            failures={"reserve": round(10_000 * (1 - chance))},
        )
        for value, chance in chances.items()
    )
    return SizingResult(
        study=STUDY,
        seed=7,
        number=made_number(called),
        low=36_000.0,
        high=42_000.0,
        whole=False,
        asked=0.95,
        confidence=0.9,
        met=() if answer is None else ((39_000.0, 40_000.0),),
        answer=answer,
        best=40_000.0,
        chance=made_chance(0.955),
        likely=38_900.0,
        at_best=38_800.0,
        resolution=40.0,
        limited_below="reserve",
        limited_above="fits",
        cap=None,
        points=points,
        notes=(),
        limits=LIMITS,
        sentence=f"{STUDY.title}: {called} must lie between 39 t and 40 t for 95 % with 90 % confidence.",
    )


def made_sweep(axes: int = 2, called: str = "the load of saddle.main", *, partial: bool = False) -> SweepResult:
    numbers = (made_number(called), made_number("the load of tern.hold", "vehicle.tern.tanks.hold.load"))
    values = ((36_000.0, 38_000.0, 40_000.0), (8_000.0, 8_500.0, 9_000.0, 9_500.0))
    one, two = (0.3, 0.96, 0.99), (0.1, 0.5, 0.93, 0.96, 0.3, 0.94, 0.96, 0.97, 0.5, 0.95, 0.98, 0.99)
    chances = one if axes == 1 else two
    line = ((37_900.0,),) if axes == 1 else ((36_000.0, 9_400.0), (38_000.0, 8_600.0), (40_000.0, 8_500.0))
    return SweepResult(
        study=STUDY,
        seed=7,
        partial=partial,
        cases=10_000,
        asked=0.95,
        confidence=0.9,
        axes=tuple(SweepAxis(number=n, values=v) for n, v in zip(numbers[:axes], values[:axes], strict=True)),
        succeeded=tuple(round(10_000 * chance) for chance in chances),
        low=tuple(chance - 0.004 for chance in chances),
        high=tuple(min(chance + 0.004, 1.0) for chance in chances),
        likely=(line,),
        shown=(line,),
        notes=(),
        limits=LIMITS,
        sentence=f"{STUDY.title}: {called} gives a chance from 10 % to 99 %.",
    )


def made_estimate(method: str, value: float, variation: float) -> RareEstimateResult:
    chance = Chance(value=value, low=0.8 * value, high=1.25 * value, confidence=0.95, method="made")
    return RareEstimateResult(
        method=method, chance=chance, coefficient_of_variation=variation, calls=270_336, replicates=16
    )


def made_rare(names: Sequence[str] = ("reserve", "fits", "lift")) -> RareResult:
    counted = made_estimate("brute force", 0.25, 0.01)
    subset, importance = (
        made_estimate("subset simulation", 2.1e-7, 0.08),
        made_estimate("importance sampling", 2e-7, 0.02),
    )
    said = "a case fails with a chance of"

    def failure(name: str, state: str, quoted: RareEstimateResult | None, *every: RareEstimateResult) -> RareFailure:
        sentence = f"{name}: {said if every else 'no failure reached'}."
        return RareFailure(
            output=name, state=state, quoted=quoted, estimates=every, calls=540_672, invalid=0, sentence=sentence
        )

    return RareResult(
        study=STUDY,
        seed=7,
        target_variation=0.1,
        failures=(
            failure("any requirement", "counted by brute force", counted, counted),
            failure(names[0], "two estimates agree", importance, subset, importance),
            failure(names[1], "no failure reached", None),
            failure(names[2], "estimates disagree", None, subset, made_estimate("importance sampling", 9e-7, 0.02)),
        ),
        notes=(),
        limits=LIMITS,
        sentence=f"{STUDY.title}: {said} 0.25.",
    )


def made_unknowns(inputs: Sequence[str] = ("vehicle.tern.dry_mass", "vehicle.saddle.dry_mass")) -> UnknownsResult:
    estimates = tuple(0.55 + 0.4 * (k / 199) ** 0.5 for k in range(200))
    return UnknownsResult(
        inputs=tuple(inputs),
        draws=200,
        cases=4_096,
        mean=made_chance(0.82),
        spread=made_interval(0.09, 0.01),
        quantiles=tuple(
            UnknownQuantile(p=p, chance=made_interval(estimates[round(199 * p)], 0.01)) for p in (0.05, 0.5, 0.95)
        ),
        asked=0.9,
        reaches=made_chance(0.24, 200),
        distinguishable=True,
        estimates=estimates,
        sentence="The chance is 82 %, but over what is not known yet it lies between 64 and 94 %.",
    )


def made_whole_result(names: Sequence[str] = NUMBERS) -> Result:
    """Return a result with all that the first cases and what is not known tell."""
    return made_result(shares=made_shares(names), shifts=made_shifts(names), unknowns=made_unknowns())


def made_answers() -> Answers:
    return Answers.of(made_whole_result(), made_drivers(), made_sizing(), made_sweep(2), made_sweep(1), made_rare())
