"""What is written with a unit, against published conversion factors.

NIST SP 811 (2008), Appendix B.8, from memory: its factors to seven digits. The knot, the mile and standard gravity
are exact by definition (ISO 80000-3; 3rd CGPM 1901).
"""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.base import units
from monitor.base.units import UnitError, parse_quantity


@pytest.mark.parametrize(
    ("written", "unit", "si"),
    [
        ("1 kn", "m/s", 1852.0 / 3600.0),
        ("1 kt", "m/s", 5.144444e-01),
        ("1 knot", "m/s", 5.144444e-01),
        ("1 km/h", "m/s", 2.777778e-01),
        ("1 mile/hour", "m/s", 4.4704e-01),
        ("1 ft/s", "m/s", 3.048e-01),
        ("1 nmi", "m", 1852.0),
        ("1 cable", "m", 185.2),
        ("1 ft", "m", 3.048e-01),
        ("1 fathom", "m", 1.828804),
        ("1 inch", "m", 2.54e-02),
        ("1 tf", "N", 9806.65),
        ("1 kgf", "N", 9.80665),
        ("1 lbf", "N", 4.448222),
        ("1 kip", "N", 4.448222e03),
        ("1 t", "kg", 1000.0),
        ("1 lb", "kg", 4.535924e-01),
        ("1 lb/ft", "kg/m", 1.488164),
        ("1 kip/ft", "N/m", 1.459390e04),
        ("1 hPa", "Pa", 100.0),
        ("1 mbar", "Pa", 100.0),
        ("1 inHg", "Pa", 3.386389e03),
        ("1 psi", "Pa", 6.894757e03),
        ("1 ft^2", "m^2", 9.290304e-02),
        ("1 m²", "m^2", 1.0),
        ("20 degC", "K", 293.15),
        ("68 degF", "K", 293.15),
        ("1 rad", "deg", 57.295780),
        ("30 arcmin", "deg", 0.5),
        ("040°", "deg", 40.0),
        ("60 %", "dimensionless", 0.6),
        ("1 h", "s", 3600.0),
        ("-2 h", "s", -7200.0),
        ("1 kn/min", "m/s^2", 1852.0 / 3600.0 / 60.0),
        (" 12.50kN ", "N", 12500.0),
        ("+.5 m", "m", 0.5),
        ("1e3 m", "m", 1000.0),
    ],
)
def test_published_conversion_factors(written: str, unit: str, si: float) -> None:
    assert parse_quantity(written, unit) == pytest.approx(si, rel=5e-7)


def test_our_constants_are_the_exact_ones() -> None:
    assert units.KNOT_M_S == 1852.0 / 3600.0
    assert units.TONNE_FORCE_N == 1000.0 * units.GRAVITY_M_S2 == 9806.65
    assert parse_quantity("10 cable", "m") == pytest.approx(1852.0)
    assert units.knots(units.m_s(17.0)) == pytest.approx(17.0)
    assert units.m_s(36.0) == pytest.approx(18.52)
    assert units.tonnes_force(9806.65) == 1.0


@pytest.mark.parametrize(
    ("written", "unit", "told"),
    [
        ("12", "m/s", 'the unit is missing: write for instance "12 kn" or "6.2 m/s"'),
        ("1.5e3", "N", 'the unit is missing: write for instance "850 kN" or "87 tf"'),
        (12, "m", 'write the number with its unit in quotes, for instance "12.5 m"'),
        (True, "m", 'write the number with its unit in quotes, for instance "12.5 m"'),
        (None, "s", 'write the number with its unit in quotes, for instance "10 min" or "30 s"'),
        ("12 kN", "m/s", '\'kN\' measures something else: write for instance "12 kn" or "6.2 m/s"'),
        ("12 kn", "N", '\'kn\' measures something else: write for instance "850 kN" or "87 tf"'),
        ("5 t", "N", '\'t\' measures something else: write for instance "850 kN" or "87 tf"'),
        ("12 %", "deg", "'%' measures something else: write for instance \"040 deg\""),
        ("30 deg", "dimensionless", "'deg' measures something else: write for instance \"60 %\""),
        ("12 KN", "N", 'unknown unit \'KN\': write for instance "850 kN" or "87 tf"'),
        ("5,5 m", "m", 'not a number with a unit: write for instance "12.5 m"'),
        ("12 m**9**9**9", "m", 'not a number with a unit: write for instance "12.5 m"'),
        ("12 (m", "m", 'not a number with a unit: write for instance "12.5 m"'),
        ("12 m/0", "m", 'not a number with a unit: write for instance "12.5 m"'),
        ("1 m, perhaps 2 m", "m", 'not a number with a unit: write for instance "12.5 m"'),
        ("1e999 m", "m", 'too large a number: write for instance "12.5 m"'),
        ("", "m", 'not a number with a unit: write for instance "12.5 m"'),
    ],
)
def test_what_cannot_be_read_says_how_to_write_it(written: object, unit: str, told: str) -> None:
    with pytest.raises(UnitError) as raised:
        parse_quantity(written, unit)
    assert str(raised.value) == told


@given(st.text(max_size=80) | st.from_regex(r"[0-9.]{1,4} ?[a-zA-Z%°*/^()0-9 ]{0,20}", fullmatch=True))
def test_no_text_gives_anything_but_a_finite_number_or_a_unit_error(text: str) -> None:
    for unit in ("m", "deg", "dimensionless", "K"):
        try:
            assert math.isfinite(parse_quantity(text, unit))
        except UnitError as error:
            assert "for instance" in str(error)
