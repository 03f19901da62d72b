from __future__ import annotations

import math
import pickle
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from leadline import units
from leadline.units import (
    DIMENSIONS,
    FORCE,
    FRACTION,
    MASS,
    PRESSURE,
    RATE,
    RATIO,
    SPECIFIC_IMPULSE,
    SPEED,
    TEMPERATURE,
    TIME,
    VOLUME,
    Dimension,
    QuantityError,
    humanise,
    parse_quantity,
)

# Published: definitions, digits as printed in the documents named.
DEFINITIONS = [
    # International yard and pound agreement, 1959: 1 yd = 0.9144 m, 1 lb = 0.453 592 37 kg, exact.
    (MASS, "lbm", Fraction("0.45359237")),
    (SPEED, "ft/s", Fraction("0.9144") / 3),
    (VOLUME, "ft3", (Fraction("0.9144") / 3) ** 3),
    # SI Brochure, 9th edition, table 8: min 60 s, h 3600 s, d 86 400 s, L 1e-3 m3, t 1000 kg.
    (TIME, "min", Fraction(60)),
    (TIME, "h", Fraction(3600)),
    (TIME, "d", Fraction(86400)),
    (VOLUME, "L", Fraction("0.001")),
    (MASS, "t", Fraction(1000)),
    # 3rd CGPM, 1901: g_n = 9.806 65 m/s2. NIST SP 811 (2008), appendix B.8: lbf = 4.448 221 615 260 5 N, exact.
    (FORCE, "kgf", Fraction("9.80665")),
    (FORCE, "lbf", Fraction("4.4482216152605")),
    # 10th CGPM, 1954: atm = 101 325 Pa.
    (PRESSURE, "atm", Fraction(101325)),
    (PRESSURE, "bar", Fraction(100000)),
    # Exact: per hundred, per day of 86 400 s.
    (FRACTION, "%", Fraction(1, 100)),
    (RATE, "%/d", Fraction(1, 8640000)),
]


@pytest.mark.parametrize(("dimension", "symbol", "factor"), DEFINITIONS, ids=lambda v: getattr(v, "name", str(v)))
def test_factor_is_the_definition(dimension: Dimension, symbol: str, factor: Fraction) -> None:
    assert dimension.units[symbol].factor == factor
    assert dimension.units[symbol].source


def test_pound_per_square_inch() -> None:
    # Published: NIST SP 811 (2008), appendix B.8, psi = 6.894 757 E+03 Pa, seven digits.
    assert parse_quantity("1 psi", PRESSURE) == pytest.approx(6894.757, rel=1e-7)


@pytest.mark.parametrize("dimension", DIMENSIONS, ids=lambda d: d.name)
def test_each_dimension_reads_its_example_and_has_its_own_unit(dimension: Dimension) -> None:
    assert math.isfinite(parse_quantity(dimension.example, dimension))
    assert dimension.units[dimension.si].factor == 1
    assert all(unit.source for unit in dimension.units.values())


@pytest.mark.parametrize(
    ("text", "dimension", "value"),
    [
        # Exact: the decimal product, correctly rounded.
        ("18.4 t", MASS, 18400.0),
        ("18400 kg", MASS, 18400.0),
        ("1.1 t", MASS, 1100.0),
        (".5t", MASS, 500.0),
        ("+2.5e2 kg", MASS, 250.0),
        ("-3 kg", MASS, -3.0),
        ("170 m³", VOLUME, 170.0),
        ("170 m^3", VOLUME, 170.0),
        ("20 degC", TEMPERATURE, 293.15),
        ("1 %", FRACTION, 0.01),
        ("0.01", FRACTION, 0.01),
        (0.01, FRACTION, 0.01),
        (95, RATIO, 95.0),
        ("  96 h  ", TIME, 345600.0),
    ],
)
def test_reads(text: str | float, dimension: Dimension, value: float) -> None:
    assert parse_quantity(text, dimension) == value


def test_a_difference_of_temperatures_has_no_zero() -> None:
    assert parse_quantity("2 degC", TEMPERATURE, difference=True) == 2.0


@pytest.mark.parametrize(
    ("given", "dimension", "code", "message", "remedy"),
    [
        ("18 kt", MASS, "ambiguous-unit", "knots or kilotonnes", "kg, t, g or lbm"),
        ("18 kt", SPEED, "ambiguous-unit", "m/s for a speed", "m/s, km/s or ft/s"),
        ("3 ton", MASS, "ambiguous-unit", "write t (1000 kg)", "18.4 t"),
        ("3 tons", MASS, "ambiguous-unit", "write t (1000 kg)", "18.4 t"),
        ("5 lb", MASS, "ambiguous-unit", "lbm (0.45359237 kg) or lbf", "lbm"),
        ("5 lbs", FORCE, "ambiguous-unit", "lbm (0.45359237 kg) or lbf", "lbf"),
        ("5 hours", TIME, "unknown-unit", 'write "h" for hours', "96 h"),
        ("5 Kg", MASS, "unknown-unit", 'write "kg" for Kg', "kg"),
        ("5 quux", MASS, "unknown-unit", "quux is no unit", "kg, t, g or lbm"),
        ("5 km/s", MASS, "wrong-dimension", "km/s is a unit of speed", "18.4 t"),
        ("447 m/s", SPECIFIC_IMPULSE, "wrong-dimension", "m/s is a unit of speed", "447 s"),
        (18.4, MASS, "missing-unit", "has no unit", '"18.4 kg" or "18.4 t"'),
        ("18.4", MASS, "missing-unit", "has no unit", '"18.4 kg" or "18.4 t"'),
        ("nan kg", MASS, "not-finite", "not a finite number", "finite mass"),
        (math.nan, FRACTION, "not-finite", "not a finite number", "1 %"),
        (-math.inf, RATIO, "not-finite", "not a finite number", "5.9"),
        ("Infinity t", MASS, "not-finite", "not a finite number", "18.4 t"),
        ("1,200 kg", MASS, "number-format", "comma", "point and no thousands separators"),
        ("18,4 t", MASS, "number-format", "comma", "point and no thousands separators"),
        ("1 200 kg", MASS, "number-format", "separator", "digits together"),
        ("1_200 kg", MASS, "number-format", "separator", "digits together"),
        ("1'200 kg", MASS, "number-format", "separator", "digits together"),
        ("\u22123 t", MASS, "number-format", "typographic minus", "hyphen"),
        ("", MASS, "not-a-quantity", "is not a mass", "18.4 t"),
        ("about 5 t", MASS, "not-a-quantity", "is not a mass", "18.4 t"),
        ("\u0663 t", MASS, "not-a-quantity", "is not a mass", "18.4 t"),
        ("5.9:1", RATIO, "unknown-unit", "no unit known", "5.9"),
        ("5 %", RATIO, "wrong-dimension", "unit of fraction", "5.9"),
        ("1e300 t", MASS, "out-of-range", "too large", "18.4 t"),
        ("1e-300 t", MASS, "out-of-range", "too small", "18.4 t"),
        ("1e99999999999999999 t", MASS, "out-of-range", "too large", "18.4 t"),
        (10**400, RATIO, "out-of-range", "too large", "5.9"),
        ("5 t" + " " * 200 + "x", MASS, "not-a-quantity", "is not a mass", "18.4 t"),
    ],
)
def test_refuses(given: str | float, dimension: Dimension, code: str, message: str, remedy: str) -> None:
    with pytest.raises(QuantityError) as caught:
        parse_quantity(given, dimension)
    assert caught.value.code == code
    assert message in caught.value.message
    assert remedy in caught.value.remedy


def test_error_travels_between_processes() -> None:
    error = QuantityError("Bad.", "Do better.", "code")
    again = pickle.loads(pickle.dumps(error))  # noqa: S301 - made two lines above
    assert (again.message, again.remedy, again.code) == (error.message, error.remedy, error.code)


@given(
    st.decimals(min_value="-1e6", max_value="1e6", places=4, allow_nan=False),
    st.sampled_from([d for d in DIMENSIONS if d.si]),
)
def test_equivalent_units_are_the_same_float(number: object, dimension: Dimension) -> None:
    # Exact: the value is the correctly rounded product of two exact fractions.
    for unit in dimension.units.values():
        exact = unit.factor * (Fraction(str(number)) + unit.offset)
        assert parse_quantity(f"{number} {unit.symbol}", dimension) == float(exact)


@given(st.text(max_size=60), st.sampled_from(DIMENSIONS))
def test_any_text_is_read_or_refused_with_a_remedy(text: str, dimension: Dimension) -> None:
    try:
        said = ("", str(math.isfinite(parse_quantity(text, dimension))))
    except QuantityError as error:
        said = (error.message, error.remedy)
    assert said == ("", "True") or (said[0] and said[1].endswith("."))


@pytest.mark.parametrize(
    ("value", "unit", "digits", "shown"),
    [
        # Exact: decimal rounding.
        (18400.0, "kg", 3, "18.4 t"),
        (999.6, "kg", 3, "1 t"),
        (999.4, "kg", 3, "999 kg"),
        (-1234567.0, "kg", 4, "-1235 t"),
        (3132.0, "m/s", 4, "3.132 km/s"),
        (50.0, "m/s", 3, "50 m/s"),
        (90.0, "s", 3, "90 s"),
        (1200.0, "s", 3, "20 min"),
        (345600.0, "s", 3, "4 d"),
        (100000.0, "s", 3, "27.8 h"),
        (66000.0, "N", 3, "66 kN"),
        (240.0, "W", 3, "240 W"),
        (0.001 / 86400, "/s", 3, "0.1 %/d"),
        (0.0123456, "", 3, "0.0123"),
        (0.0, "kg", 3, "0 kg"),
        (1e-9, "kg", 3, "1e-09 kg"),
        (170.04, "m3", 3, "170 m3"),
        (math.nan, "kg", 3, "not a number"),
        (math.inf, "kg", 3, "unlimited"),
        (-math.inf, "kg", 3, "-unlimited"),
    ],
)
def test_humanises(value: float, unit: str, digits: int, shown: str) -> None:
    assert humanise(value, unit, digits) == shown


@given(st.floats(min_value=1e-3, max_value=1e9), st.sampled_from([MASS, SPEED, TIME, FORCE, PRESSURE]))
def test_what_is_shown_reads_back_to_its_digits(value: float, dimension: Dimension) -> None:
    shown = humanise(value, dimension.si, 4)
    # Four significant digits are right to half a unit of the fourth.
    assert parse_quantity(shown, dimension) == pytest.approx(value, rel=5.1e-4)


def test_all_is_what_is_public() -> None:
    assert set(units.__all__) <= set(vars(units))
