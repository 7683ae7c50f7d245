"""A stay set up in a form: filled from an earlier call, written as the same TOML, checked by the same rules."""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Mapping
from itertools import count
from pathlib import Path
from typing import Any, Final

from monitor.outlet.console.desk import Draft, StaySheet
from monitor.run.picture import plan_of
from monitor.settings.assumed import assumptions
from monitor.settings.faults import SettingsFault, how_many
from monitor.settings.load import load_stay_text

_NAME: Final = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,59}")
_FIELDS: Final = ("name", "ship", "berth", "side_to", "midships_along", "draught_forward", "draught_aft",
                  "tended_at", "local_time_ahead_of_utc")  # fmt: skip
_BARE: Final = ("tended_at",)


def sheet_of(config: Path, name: str, ship: str = "", berth: str = "") -> StaySheet:
    """The form filled from a stay file, for its own ship and berth or for others; every line the ship carries is
    there, without a pretension when it is not led. Raises ValueError for no name, OSError when it is not there."""
    tree = _tree(config, name)
    ship, berth = ship or str(tree.get("ship", "")), berth or str(tree.get("berth", ""))
    carried = [line.get("name", "") for line in _toml(config / "ships", ship).get("lines", ())]
    bollards = tuple(bollard.get("name", "") for bollard in _toml(config / "berths", berth).get("bollards", ()))
    led = {each.get("line", ""): each for each in tree.get("lines", ())}
    rows = []
    for line in [*led, *(line for line in carried if line not in led)]:
        if line in carried:
            bollard = led.get(line, {}).get("bollard", "")
            known = bollard in bollards
            rows.append((line, bollard if known else "", led[line].get("pretension", "") if known else ""))
    values = {key: _shown(tree.get(key, "")) for key in _FIELDS} | {"ship": ship, "berth": berth}
    return StaySheet(
        name,
        tuple(values.items()),
        tuple(rows),
        tuple(
            (_shown(turn.get("at", "")), turn.get("height", ""), turn.get("water", ""))
            for turn in tree.get("tide", ())
        ),
        _names(config / "stays"),
        _names(config / "ships"),
        _names(config / "berths"),
        bollards,
    )


def draft(config: Path, fields: Mapping[str, str]) -> Draft:
    """The file the form would write, and every fault of it; its plan when it holds together."""
    text = ""
    try:
        text = _written(config, fields)
        settings = load_stay_text(config, fields.get("file", ""), text)
    except SettingsFault as fault:
        return Draft(text, tuple(str(each) for each in fault.faults), (), None)
    except (ValueError, OSError) as error:
        return Draft("", (str(error),), (), None)
    return Draft(text, (), assumptions(settings), plan_of(settings))


def keep(config: Path, fields: Mapping[str, str]) -> str:
    """Write the file when it has no fault; never over another one."""
    made = draft(config, fields)
    if made.faults:
        return f"Not written: {how_many(made.faults)}"
    path = config / "stays" / f"{fields['file']}.toml"
    try:
        with path.open("x", encoding="utf-8") as file:
            file.write(made.text)
    except FileExistsError:
        return f"Not written: {path.name} is there already; choose another name"
    except OSError as error:
        return f"Not written: {error.strerror or error}"
    return f"Written: {path.name}. Begin it with: bightwatch watch {fields['file']}"


def _written(config: Path, fields: Mapping[str, str]) -> str:
    file = fields.get("file", "")
    if not _NAME.fullmatch(file):
        raise ValueError(f"'{file}' is no name for the file: letters, digits and hyphens")
    copied = _tree(config, fields.get("copied", ""))
    rows = [
        "# Written by the form of the console. See the comments of the shipped stay for what each key means.",
        "",
    ]
    rows.append(f"invented = {str(copied.get('invented', False)).lower()}")
    for key in _FIELDS:
        value = fields.get(key, "")
        rows.append(f"{key} = {_instant(value) if key in _BARE else json.dumps(value, ensure_ascii=False)}")
    rows += [f"{key} = {_value(copied[key])}" for key in ("phase", "alerts") if key in copied]
    led = {each.get("line", ""): each for each in copied.get("lines", ())}
    for n in count():
        if f"line{n}" not in fields:
            break
        if fields.get(f"pretension{n}", ""):  # an empty pretension leaves the line out
            asked = {"line": fields[f"line{n}"], "bollard": fields.get(f"bollard{n}", ""),
                     "pretension": fields[f"pretension{n}"]}  # fmt: skip
            rows += _table("lines", {**led.get(asked["line"], {}), **asked})  # with its sensor, where it has one
    for n in count():
        if f"tide_at{n}" not in fields:
            break
        if fields[f"tide_at{n}"]:
            rows += ["", "[[tide]]", f"at = {_instant(fields[f'tide_at{n}'])}",
                     f"height = {json.dumps(fields.get(f'tide_height{n}', ''))}",
                     f"water = {json.dumps(fields.get(f'tide_water{n}', ''))}"]  # fmt: skip
    for feed in copied.get("feeds", ()):
        rows += _table("feeds", feed)
    rows += ["", "[wind]", *(f"{key} = {_value(value)}" for key, value in copied.get("wind", {}).items()), ""]
    return "\n".join(rows)


def _table(name: str, entry: Mapping[str, Any]) -> list[str]:
    return ["", f"[[{name}]]", *(f"{key} = {_value(value)}" for key, value in entry.items())]


def _value(value: Any) -> str:
    """A TOML value: strings, numbers, truths and lists of them read the same in JSON."""
    return json.dumps(value, ensure_ascii=False)


def _instant(text: str) -> str:
    """A bare TOML instant when it is one, else quoted: the check then tells what is wrong."""
    return text if re.fullmatch(r"\d{4}-\d\d-\d\d[T ]\d\d:\d\d(:\d\d)?Z", text) else json.dumps(text)


def _shown(value: Any) -> str:
    return value.strftime("%Y-%m-%dT%H:%M:%SZ") if hasattr(value, "strftime") else str(value)


def _tree(config: Path, name: str) -> dict[str, Any]:
    return _toml(config / "stays", name)


def _toml(folder: Path, name: str) -> dict[str, Any]:
    if not _NAME.fullmatch(name):
        raise ValueError(f"'{name}' is no name of a settings file")
    return tomllib.loads((folder / f"{name}.toml").read_text(encoding="utf-8"))


def _names(folder: Path) -> tuple[str, ...]:
    return tuple(sorted(path.stem for path in folder.glob("*.toml") if _NAME.fullmatch(path.stem)))
