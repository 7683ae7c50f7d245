"""Writing a tuned alert profile: only when somebody says so, with who and why in it, and the old one kept."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import Final

from monitor.settings.faults import Fault, SettingsFault
from monitor.settings.page import read_page
from monitor.settings.places import lines_of
from monitor.settings.schema import Alerts
from monitor.settings.sense import alerts_sense
from monitor.settings.shape import shaped

MOST_STEP: Final = 0.10  # of each level, at one tuning
MOST_DELAY_STEP_S: Final = 10.0
_SHARES: Final = {
    "levels": ("caution", "warning", "alarm"),
    "with_people": ("caution", "warning", "alarm"),
    "odds": ("caution", "warning"),
}
_TIMES: Final = {"timing": ("raise_after", "clear_after", "first_notice", "act")}
_DEADBAND: Final = ("timing", "deadband")
_VALUE: Final = re.compile(r"""^(\s*[\w"'-]+\s*=\s*)("[^"]*"|'[^']*'|[^#\s][^#]*?)(\s*(?:#.*)?)$""")
_ROUNDING: Final = 1e-9


def profile_of(text: str, file: str = "the profile") -> Alerts:
    """An alert profile from its text. Raises SettingsFault."""
    page = read_page(file, text.encode())
    if isinstance(page, Fault):
        raise SettingsFault([page])
    profile, faults = shaped(page, Alerts)
    if profile is not None:
        faults = [*faults, *alerts_sense(page, profile)]
    if profile is None or faults:
        raise SettingsFault(faults)
    return profile


def differences(old: Alerts, new: Alerts) -> Iterator[tuple[tuple[str, str], str, str]]:
    """(table and key, value before, value after) of all that a tuning may change and that is other."""
    for table, key in _keys():
        before, after = _value(old, table, key), _value(new, table, key)
        if before is None or after is None or abs(before - after) <= _ROUNDING:
            continue
        yield (table, key), _written(table, key, before), _written(table, key, after)


def too_far(old: Alerts, new: Alerts, alarm_cap: float) -> list[str]:
    """Why a profile may not follow on another: a step of more than MOST_STEP, or ALARM above the cap."""
    found = []
    for table, key in _keys():
        before, after = _value(old, table, key), _value(new, table, key)
        if before is None or after is None:
            continue
        time_s = table in _TIMES and (table, key) != _DEADBAND
        most = max(MOST_STEP * before, MOST_DELAY_STEP_S if time_s else 0.0)
        capped = key == "alarm" and before > alarm_cap and after >= alarm_cap - _ROUNDING  # comes down to its cap
        if abs(after - before) > most + _ROUNDING and not capped:
            found.append(f"{table}.{key}: more than {MOST_STEP:.0%} in one step")
        if key == "alarm" and after > alarm_cap + _ROUNDING:
            found.append(f"{table}.alarm is above {alarm_cap:.1%}: 60 % of a brake setting, the highest it may be")
    return found


def rewritten(text: str, profile: Alerts) -> str:
    """The text of a profile with the numbers of another; comments and all else stay. Raises SettingsFault."""
    lines, places = text.split("\n"), lines_of(text)
    for (table, key), _, after in differences(profile_of(text), profile):
        number = places[(table, key)] - 1
        found = _VALUE.match(lines[number])
        if found is None:
            raise ValueError(
                f'line {number + 1} of the profile cannot be changed: write {table}.{key} = "{after}"'
            )
        lines[number] = f'{found[1]}"{after}"{found[3]}'
    return "\n".join(lines)


def adopt(
    config: Path, name: str, base: str, profile: Alerts, by: str, why: str, at: datetime, alarm_cap: float
) -> tuple[Path, Path | None]:
    """Write config/alerts/<name>.toml; returns it and where the one before it now is (None: there was none).

    `base`: text of the profile to start from where there is no file of that name. Raises ValueError when initials
    or the reason are missing or the step is too far, SettingsFault when the profile is not sound.
    """
    if not re.fullmatch(r"[A-Za-z]{1,4}", by):
        raise ValueError('who adopts it? --by "AB": one to four initials')
    why = " ".join(why.split())
    if not why:
        raise ValueError('why? --why "..."')
    if not re.fullmatch(r"[a-z0-9][a-z0-9-]*", name):
        raise ValueError(f"'{name}': a name of small letters, digits and -")
    file = config / "alerts" / f"{name}.toml"
    old = file.read_text("utf-8") if file.is_file() else base
    before = profile_of(old, file.as_posix())
    if faults := too_far(before, profile, alarm_cap):
        raise ValueError("not adopted: " + "; ".join(faults))
    changes = [f"{'.'.join(path)} {was} -> {now}" for path, was, now in differences(before, profile)]
    if not changes:
        raise ValueError(f"not adopted: {file.as_posix()} has these numbers already")
    kept = _beside(file, at) if file.is_file() else None
    head = [f"# Tuned {at:%Y-%m-%d %H:%M} UTC by {by.upper()}: {why}", *(f"#   {change}" for change in changes)]
    head.append(f"# Before it: {kept.name if kept else 'the profile of the recordings'}.\n#\n")
    text = "\n".join(head) + rewritten(old, profile)
    profile_of(text, file.as_posix())
    part = file.with_suffix(".part")
    part.write_bytes(text.encode())
    if kept is not None:
        with kept.open("x", encoding="utf-8", newline="") as copy:
            copy.write(old)
    part.replace(file)
    return file, kept


def _beside(file: Path, at: datetime) -> Path:
    """A name beside the file that nothing has."""
    stem, number = f"{file.stem}-until-{at:%Y-%m-%d}", 1
    while (path := file.with_name(f"{stem}{f'-{number}' if number > 1 else ''}.toml")).exists():
        number += 1
    return path


def _keys() -> Iterator[tuple[str, str]]:
    for table, keys in (*_SHARES.items(), *_TIMES.items()):
        for key in keys:
            yield table, key
    yield _DEADBAND


def _value(profile: Alerts, table: str, key: str) -> float | None:
    part = getattr(profile, table)
    value: float | None = None if part is None else getattr(part, key)
    return value


def _written(table: str, key: str, value: float) -> str:
    return f"{value:g} s" if table in _TIMES and (table, key) != _DEADBAND else f"{value * 100:.10g} %"
