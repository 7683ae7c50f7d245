"""A case file: facts with their origin, guesses as ranges, and draws of them.

A fact is a table with `by` (its origin: "read" in the source named, "memory", or "guess") and one of
`is = value`, `from = ..., to = ...` (uniform) or `of = [...]` (equally likely). Quantities carry their unit. With
`times = "other fact"` the value is a multiple of that one. `unknown = "30 %"` is the share of draws in which the
officer would have had to write "unknown".
"""

from __future__ import annotations

import tomllib
import zlib
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any, Final, Literal

import numpy as np

from monitor.base.units import parse_quantity

FOLDER: Final = Path(__file__).parent
SEED: Final = 1877
Value = float | str | bool | list[int] | None
Drawn = dict[str, Value]

# What a fact measures; "" is a word, a list or a count.
UNITS: Final = {
    "m": (
        "loa beam draught_aft draught_forward summer_draught deck_above_water anemometer_above_water lead_on_deck "
        "tail_length head_reach spring_reach breast_reach breast_behind bollard_spacing overhang_forward "
        "overhang_aft depth_at_datum fairway_depth fairway_width fender_thickness fender_spacing tide_low "
        "tide_range quay_above_high_water passer_loa passer_beam passer_draught passer_distance"
    ),
    "m^2": "lateral_area frontal_area",
    "N": "mbl bollard_swl fitting_swl fender_reaction",
    "m/s": (
        "wind_before wind_at_event wind_gust stream_before stream_at_event stream_fairway draught_falls "
        "passer_speed_ground passer_speed_water"
    ),
    "deg": "wind_off_square wind_turns stream_off_quay",
    "s": (
        "wind_rise_begins wind_rise_lasts stream_rise_begins stream_rise_lasts high_water_after tended_before "
        "passer_seen_before passer_abeam_before forecast_late"
    ),
    "dimensionless": (
        "length_between_perpendiculars block residual pretension brake gust_over_mean forecast_share "
        "passer_off_middle fender_deflection lateral_area_spread ldbf"
    ),
    "": (
        "windage_type material tail pattern on_bitts lines_per_bollard brake_condition quay_kind exposure phase "
        "wind_foreseen stream_meets passer_way passer_type passer_class_a acknowledged"
    ),
}
UNIT: Final = {name: unit for unit, names in UNITS.items() for name in names.split()}
Origin = Literal["read", "memory", "guess"]


class BadCase(ValueError):
    """A case file that says something it may not; the text says what."""


@dataclass(frozen=True)
class Fact:
    """One fact: a value, a range or a choice."""

    name: str
    by: Origin
    why: str
    low: float
    high: float
    choices: tuple[Value, ...]  # empty for a range
    times: str | None
    unknown: float

    @property
    def certain(self) -> bool:
        """The same in every draw."""
        return not self.unknown and (len(self.choices) == 1 or (not self.choices and self.low == self.high))

    def value(self, share: float, know: float, drawn: Drawn) -> Value:
        """At a share 0 … 1 of the range; `know` 0 … 1 decides whether the officer knew."""
        if know < self.unknown:
            return None
        if self.choices:
            return self.choices[min(int(share * len(self.choices)), len(self.choices) - 1)]
        number = self.low + share * (self.high - self.low)
        return number if self.times is None else number * number_of(drawn, self.times)


@dataclass(frozen=True)
class Case:
    """One accident. `matter`: what did it; `expected`: what the watch should have told before it."""

    case: str
    title: str
    matter: Literal["passing", "wind", "slow load"]
    expected: Literal["alarm", "warning", "no passing alert, but the tide told"]
    lead_needed_s: float  # what people needed to get clear, or to do something about it
    doubtful: bool  # must not come out as "good"
    before_s: float  # the watch begins so long before the event
    quiet_s: float  # ticks may be a minute apart until so long before the event
    source: str
    unknown: str  # what the table says remains unknown
    facts: dict[str, Fact]
    invented: bool


def number_of(drawn: Drawn, name: str) -> float:
    """A drawn number. Raises BadCase when it is none."""
    value = drawn.get(name)
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise BadCase(f"{name} is not a number here: {value!r}")
    return float(value)


def load(path: Path) -> Case:
    """A case file, filled up with the usual facts. Raises BadCase for what it may not say."""
    told = tomllib.loads(path.read_text("utf-8"))
    usual = tomllib.loads((FOLDER / "usual.toml").read_text("utf-8"))
    own, common = told.pop("facts"), usual["facts"]
    if "wind_gust" in own:  # one way of telling the wind at the event excludes the other
        common.pop("wind_at_event")
    facts = {name: _fact(name, table) for name, table in {**common, **own}.items()}
    durations = {key: parse_quantity(told.pop(key), "s") for key in ("lead_needed", "before", "quiet")}
    try:
        return Case(
            facts=facts,
            lead_needed_s=durations["lead_needed"],
            before_s=durations["before"],
            quiet_s=durations["quiet"],
            **told,
        )
    except TypeError as error:
        raise BadCase(f"{path.name}: {error}") from None


def _fact(name: str, table: dict[str, Any]) -> Fact:
    if name not in UNIT:
        raise BadCase(f"no fact is called {name}")
    if table.get("by") not in ("read", "memory", "guess"):
        raise BadCase(f'{name}: by = "read", "memory" or "guess"')
    extra = set(table) - {"is", "from", "to", "of", "by", "why", "times", "unknown"}
    if extra or sum(key in table for key in ("is", "from", "of")) != 1 or ("from" in table) != ("to" in table):
        raise BadCase(f"{name}: one of is, from … to, of; and by, why, times, unknown")
    times = table.get("times")
    unknown = parse_quantity(table["unknown"], "dimensionless") if "unknown" in table else 0.0
    choices: tuple[Value, ...] = ()
    low = high = 0.0
    if "from" in table:
        low, high = (_number(name, table[key], times) for key in ("from", "to"))
        if not low < high:
            raise BadCase(f"{name}: from is not below to")
    else:
        choices = tuple(_word_or_number(name, each, times) for each in table.get("of", [table.get("is")]))
        if times is not None and len(choices) == 1 and isinstance(choices[0], float):
            low = high = choices[0]
            choices = ()
    return Fact(name, table["by"], table.get("why", ""), low, high, choices, times, unknown)


def _number(name: str, written: object, times: str | None) -> float:
    unit = UNIT[name]
    if times is not None and UNIT[times] == unit:
        if isinstance(written, bool) or not isinstance(written, int | float):
            raise BadCase(f"{name}: a bare multiple of {times}")
        return float(written)
    if isinstance(written, int | float) and unit == "":
        return float(written)
    return parse_quantity(written, unit if times is None else f"{unit}/({UNIT[times]})" if unit else "")


def _word_or_number(name: str, written: Any, times: str | None) -> Value:
    if written == "unknown":
        return None
    return written if UNIT[name] == "" else _number(name, written, times)


def draws(case: Case, count: int) -> list[Drawn]:
    """A Latin hypercube of the uncertain facts, always the same for a case and a count."""
    rng = np.random.default_rng([SEED, zlib.crc32(case.case.encode())])
    shares = {name: _stratified(rng, count) for name in sorted(case.facts)}
    knows = {name: _stratified(rng, count) for name in sorted(case.facts) if case.facts[name].unknown}
    order = _in_order(case.facts)
    found = []
    for k in range(count):
        drawn: Drawn = {}
        for name in order:
            know = float(knows[name][k]) if name in knows else 1.0
            drawn[name] = case.facts[name].value(float(shares[name][k]), know, drawn)
        found.append(drawn)
    return found


def _stratified(rng: np.random.Generator, count: int) -> np.ndarray:
    return (rng.permutation(count) + rng.random(count)) / count


def _in_order(facts: dict[str, Fact]) -> list[str]:
    """Each fact after the one it is a multiple of."""
    order: list[str] = []
    waiting = sorted(facts)
    while waiting:
        ready = [name for name in waiting if facts[name].times is None or facts[name].times in order]
        if not ready:
            raise BadCase(f"multiples of what is not told: {', '.join(waiting)}")
        order += ready
        waiting = [name for name in waiting if name not in ready]
    return order


def ranks(values: list[Value]) -> np.ndarray:
    """Ranks of drawn values, ties averaged; words and what is unknown in alphabetical order, after the numbers."""
    keys = [(1, 0.0, str(v)) if not isinstance(v, int | float) else (0, float(v), "") for v in values]
    ordered = sorted(keys)
    runs = [0, *(i for i, (a, b) in enumerate(pairwise(ordered), 1) if a != b), len(ordered)]
    mean = {ordered[a]: 0.5 * (a + b - 1) for a, b in pairwise(runs)}
    return np.array([mean[key] for key in keys])
