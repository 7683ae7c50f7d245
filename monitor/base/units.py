"""Units at the edges: what people write becomes SI numbers here, and only here does pint come in.

Inside the program every number is SI and carries its unit in its name. Angles are the exception the trade
demands: they stay in degrees (``heading_deg``), and the names say so.
"""

from __future__ import annotations

import math
import re
from functools import cache, lru_cache
from typing import Final

import pint

KNOT_M_S: Final = 1852.0 / 3600.0  # international knot, ISO 80000-3
TONNE_FORCE_N: Final = 9806.65  # standard gravity, CGPM 1901
GRAVITY_M_S2: Final = 9.80665
SEA_WATER_KG_M3: Final = 1025.0  # common practice, no source: the usual design value

_NUMBER: Final = r"([+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?)"
_SYMBOL: Final = r"(?:%|°|[A-Za-zµ°_]+(?:(?:\^|\*\*)[1-4]|[²³])?)"
_NUMBER_ONLY = re.compile(_NUMBER)
# At most four symbols: pint evaluates what it is given, and would take hours over "m**9**9**9".
_WRITTEN = re.compile(rf"{_NUMBER}\s*({_SYMBOL}(?:\s*[*/·\s]\s*{_SYMBOL}){{0,3}})")


class UnitError(ValueError):
    """A written quantity that cannot be read; the text says what was allowed."""


@cache
def registry() -> pint.UnitRegistry[float]:
    """The one pint registry (built at first use: it costs some 0.3 s)."""
    units: pint.UnitRegistry[float] = pint.UnitRegistry(autoconvert_offset_to_baseunit=True)
    units.define("kn = knot")  # the trade's own sign for knots; pint knows only 'kt'
    units.define("cable = 185.2 m")
    return units


def parse_quantity(text: object, unit: str) -> float:
    """Read a quantity such as ``"12 kn"`` as a number in `unit` (a pint unit, e.g. ``"m/s"``, ``"deg"``).

    The unit must be written: a bare number is an error, because a guessed unit is a wrong number.
    Raises UnitError when the unit is missing, unknown or of another kind.
    """
    if isinstance(text, bool) or not isinstance(text, str):
        raise UnitError(f"write the number with its unit in quotes, for instance {_example(unit)}")
    return _parsed(text.strip(), unit)


@lru_cache(maxsize=4096)  # settings are read over and over, and pint takes its time
def _parsed(stripped: str, unit: str) -> float:
    if _NUMBER_ONLY.fullmatch(stripped):
        raise UnitError(f"the unit is missing: write for instance {_example(unit)}")
    match = _WRITTEN.fullmatch(stripped) if len(stripped) <= 60 else None
    if match is None:
        raise UnitError(f"not a number with a unit: write for instance {_example(unit)}")
    units, written_unit = registry(), match.group(2)
    try:
        quantity = units.Quantity(float(match.group(1)), units.Unit(written_unit))
    except (pint.UndefinedUnitError, pint.DefinitionSyntaxError, ValueError, TypeError, AttributeError):
        raise UnitError(f"unknown unit '{written_unit}': write for instance {_example(unit)}") from None
    if _base(written_unit) != _base(unit):
        raise UnitError(f"'{written_unit}' measures something else: write for instance {_example(unit)}")
    number = float(quantity.to(unit).magnitude)
    if not math.isfinite(number):
        raise UnitError(f"too large a number: write for instance {_example(unit)}")
    return number


def typed_quantity(text: str, unit: str) -> float:
    """As `parse_quantity`, for what was typed without a key beside it: the text of its UnitError names it."""
    try:
        return parse_quantity(text, unit)
    except UnitError as error:
        raise UnitError(f"'{text}': {error}") from None


def typed_direction_deg(text: str) -> float:
    """As `typed_quantity`, of a direction from 000 deg to 360 deg, in [0, 360): more is a slip of the finger."""
    direction_deg = typed_quantity(text, "deg")
    if not 0.0 <= direction_deg <= 360.0:
        raise UnitError(f"'{text}': a direction lies from 000 deg to 360 deg")
    return direction_deg % 360.0


@cache
def _base(unit: str) -> str:
    """The base units of a unit. Unlike its dimension, they tell an angle from a plain share."""
    return str(registry().get_base_units(registry().Unit(unit))[1])


_EXAMPLES: Final = {
    "m": '"12.5 m"',
    "m/s": '"12 kn" or "6.2 m/s"',
    "N": '"850 kN" or "87 tf"',
    "N/m": '"1200 kN/m"',
    "deg": '"040 deg"',
    "s": '"10 min" or "30 s"',
    "m^2": '"2600 m^2"',
    "kg": '"59000 t"',
    "kg/m": '"3.3 kg/m"',
    "dimensionless": '"60 %"',
    "K": '"12 degC"',
    "Pa": '"1013 hPa"',
    "m/s^2": '"10 kn/min"',
}


def _example(unit: str) -> str:
    return _EXAMPLES.get(unit, f'"1 {unit}"')


def knots(speed_m_s: float) -> float:
    """m/s to knots."""
    return speed_m_s / KNOT_M_S


def m_s(speed_kn: float) -> float:
    """Knots to m/s."""
    return speed_kn * KNOT_M_S


def tonnes_force(force_n: float) -> float:
    """N to tonnes-force."""
    return force_n / TONNE_FORCE_N


def metres_in_words(low_m: float, high_m: float) -> str:
    """ "0.2–0.6 m" or "up to 0.6 m"; tenths of a metre, rounded up."""
    most = f"{math.ceil(10.0 * high_m) / 10.0:.1f} m"
    return f"up to {most}" if low_m < 0.05 else f"{low_m:.1f}–{most}"
