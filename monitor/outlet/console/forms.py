"""What people fill in, as HTML, and the typed entry that each small form stands for."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Final

from monitor.outlet.console.desk import Draft, StaySheet
from monitor.outlet.console.rows import button
from monitor.outlet.console.svg import el, esc
from monitor.outlet.wording import CAUTION, NOT_MODELLED
from monitor.records.picture import Plan
from monitor.settings.faults import how_many

VIEWS: Final = (
    ("watch", "Watch"), ("ahead", "Ahead"), ("decks", "Decks"), ("inputs", "Enter"), ("feeds", "Feeds"),
    ("what-if", "What if"), ("hand-over", "Hand over"), ("stay", "Stay"), ("log", "Log"), ("drill", "Drill"),
)  # fmt: skip
STALE: Final = (
    "The watch does not answer. Nothing here is now. Watch lines, wind and river yourself. "
    "The page goes on by itself when the watch answers."
)
PACES: Final = (1, 5, 20, 60, 200, 600)
MORE_TIDES: Final = 6  # empty rows in the form of a stay: a day and a half of high and low waters

Fields = Mapping[str, str]


def _with_unit(text: str, unit: str) -> str:
    """A bare number gets the unit that its field shows; what is written with a unit stays."""
    return f"{text} {unit}" if text.replace(".", "", 1).isdigit() else text


def _wind(fields: Fields) -> str:
    gust = fields.get("gust", "")
    line = f"wind {_with_unit(fields.get('speed', ''), 'kn')} from {_with_unit(fields.get('from', ''), 'deg')}"
    return f"{line} gust {_with_unit(gust, 'kn')}" if gust else line


def _draughts(fields: Fields) -> str:
    return f"draught {_with_unit(fields.get('forward', ''), 'm')} {_with_unit(fields.get('aft', ''), 'm')}"


def _craft(fields: Fields) -> str:
    area = fields.get("area", "")
    return f"alongside {fields.get('mmsi', '')} {_with_unit(area, 'm^2') if area else ''}".strip()


ENTRIES: Final[dict[str, Callable[[Fields], str]]] = {
    "wind": _wind,
    "draughts": _draughts,
    "craft": _craft,
    "tow": lambda fields: f"tow {fields.get('mmsi', '')} {fields.get('tows', '')}",
    "note": lambda fields: f"note {fields.get('text', '')}",
}


def field(name: str, words: str, kind: str = "short", **more: object) -> str:
    """A labelled field."""
    return el("label", esc(words), el("input", name=name, class_=kind, autocomplete="off", **more))


def choice(name: str, words: str, options: tuple[str, ...], chosen: str = "") -> str:
    """A labelled choice."""
    each = "".join(el("option", esc(option), value=option, selected=option == chosen) for option in options)
    return el("label", esc(words), el("select", each, name=name))


def cell(words: str, name: str, value: str, options: tuple[str, ...] | None = None) -> str:
    """A field or a choice in a table, whose column says what it is (to a screen reader it says so itself)."""
    if options is None:
        return el("td", el("input", name=name, value=value, class_="mid", autocomplete="off", aria_label=words))
    each = "".join(el("option", esc(option), value=option, selected=option == value) for option in options)
    return el("td", el("select", each, name=name, aria_label=words))


def _heads(*words: str) -> str:
    return el("tr", *(el("th", esc(word), scope="col") for word in words))


def _form(name: str, title: str, *inside: str, do: str = "Enter") -> str:
    row = el("div", *inside, el("button", esc(do), type="submit"), class_="row")
    return el(
        "form", el("fieldset", el("legend", esc(title), class_="strong"), row), data_form=name, data_clear="1"
    )


def entries() -> str:
    """What is read off panels and marks."""
    return (
        el("h2", "Enter what you see")
        + _form("wind", "Wind off the panel", field("speed", "speed, kn", required=True),
                field("from", "from, deg true", required=True), field("gust", "gust, kn"))
        + _form("draughts", "Draughts", field("forward", "forward, m", required=True),
                field("aft", "aft, m", required=True))
        + _form("craft", "Craft made fast to us", field("mmsi", "MMSI", required=True, inputmode="numeric"),
                field("area", "side area, m² (if known)"))
        + _form("tow", "Does that tug tow what AIS does not show?", field("mmsi", "MMSI", required=True),
                choice("tows", "tows", ("none", "yes")))
        + _form("note", "Note for the log", field("text", "note", "mid", required=True))
    )  # fmt: skip


def what_if() -> str:
    """A ship passes, the wind blows: the form."""
    return (
        el("h2", "What if")
        + el(
            "form",
            el("fieldset", el("legend", "Wind", class_="strong"), el("div",
                field("wind", "30 s wind at 10 m", value="20 kn"),
                field("direction", "from: deg true, or", value="off-berth"),
                el("span", "off-berth / on-berth: square on the beam", class_="small dim"), class_="row")),
            el("fieldset", el("legend", "Passing ship (leave empty for none)", class_="strong"), el("div",
                field("length", "length", placeholder="300 m"), field("beam", "beam (usual if empty)"),
                field("draught", "draught (usual if empty)"),
                field("distance", "hull to hull", placeholder="90 m"),
                field("speed", "speed", placeholder="8 kn"),
                choice("over", "speed is", ("through the water", "over ground")),
                choice("way", "heads", ("same as we", "the other way")), class_="row")),
            el("div", el("button", "Ask", type="submit"), class_="row"),
            el("p", esc(f"{CAUTION} {NOT_MODELLED}"), class_="small"),
            data_form="what-if", data_anonymous="1",
        )
    )  # fmt: skip


# --- the frame ----------------------------------------------------------------------------------------------


def foot() -> str:
    """The bar below: the views, who you are, light, sound, and the age of the picture."""
    views = "".join(
        el(
            "button",
            esc(f"{n % 10} {words}"),
            type="button",
            class_="quiet",
            data_do="view",
            data_view=view,
            data_key=str(n % 10),
        )
        for n, (view, words) in enumerate(VIEWS, 1)
    )
    who = el("label", "Initials ", '<input id="who" maxlength="4" autocomplete="off">')
    return (
        el("nav", views, aria_label="Views") + el("span", class_="gap") + el("span", "", id="age", class_="small")
        + el("span", "", id="sound", class_="flag") + who
        + el("button", "Light: day", type="button", id="palette", class_="quiet", data_do="palette", data_key="l")
        + el("button", "Keys, sound", type="button", class_="quiet", data_do="help", data_key="?")
    )  # fmt: skip


def player() -> str:
    """The bar of a replay."""
    paces = "".join(el("option", f"×{pace}", value=str(pace), selected=pace == 60) for pace in PACES)
    return (
        el("span", "REPLAY", class_="strong")
        + '<select id="recording" aria-label="recording" hidden></select>'
        + el("button", "Pause", type="button", id="play", data_do="play", data_anonymous="1", data_key=" ")
        + el("label", "", f'<select id="pace" aria-label="pace">{paces}</select>')
        + '<input type="range" id="scrub" min="0" max="1" step="10" aria-label="time in the recording">'
        + '<select id="jump" aria-label="jump to an event"><option value="">jump to …</option></select>'
        + el("span", "", id="developed")
    )


def dialogs() -> str:
    """What opens over the page: acknowledging, help, the stale state, short messages."""
    ask = el(
        "form",
        el("h2", "Acknowledge"), el("p", "", id="ack-what", class_="strong"),
        el("div", '<label>your initials <input id="ack-who" name="who" required maxlength="4" class="short" '
           'pattern="[A-Za-z]{1,4}" autocomplete="off"></label>', class_="row"),
        '<label id="ack-tick" class="tick"><input type="checkbox" id="ack-clear" name="clear"> '
        "Both mooring decks and the quay edge are clear</label>",
        el("div", '<button type="submit" id="ack-ok">Acknowledge</button>',
           button("Back", "close", kind="quiet"), class_="keys"),
        data_form="acknowledge",
    )  # fmt: skip
    keys = (("1 … 9, 0", "the views"), ("a", "answer the first alert"), ("s", "silence it for 30 s"),
            ("l", "day, dusk, night"), ("Space", "replay: play or hold"), ("Tab, Enter", "everything else"),
            ("?", "this list"))  # fmt: skip
    table = el("table", *(el("tr", el("td", el("b", esc(key))), el("td", esc(does))) for key, does in keys))
    return (
        el("dialog", ask, id="acknowledge", aria_label="Acknowledge an alert")
        + el("dialog", el("h2", "Keys"), table, el("p", esc(f"{CAUTION} {NOT_MODELLED}"), class_="small"),
             el("div", button("Test warning sound", "sound", kind="quiet", tone="warning"),
                button("Test alarm sound", "sound", kind="quiet", tone="alarm"), button("Back", "close"),
                class_="keys"), id="help", aria_label="Keys and sound")
        + el("div", el("div", el("strong", "THIS PICTURE IS ", el("b", "", id="stale-age")),
                       el("span", esc(STALE))), id="stale", role="alert")
        + el("div", "", id="say", aria_live="polite")
    )  # fmt: skip


# --- the stay -----------------------------------------------------------------------------------------------


def stay(sheet: StaySheet) -> str:
    """The form of a stay, filled from an earlier call."""
    values = dict(sheet.values)
    copy = el(
        "form",
        el("div", choice("copy", "begin as a copy of", sheet.stays, sheet.name),
           choice("ship", "for the ship", sheet.ships, values["ship"]),
           choice("berth", "at the berth", sheet.berths, values["berth"]),
           el("button", "Begin", type="submit"), class_="row"),
        data_form="stay-copy", data_anonymous="1",
    )  # fmt: skip
    lines = _heads("line", "to bollard", "pretension (empty: not led)") + "".join(
        el("tr", el("th", esc(line), el("input", type="hidden", name=f"line{n}", value=line), scope="row"),
           cell(f"{line}: bollard", f"bollard{n}", bollard, ("", *sheet.bollards)),
           cell(f"{line}: pretension", f"pretension{n}", pretension))
        for n, (line, bollard, pretension) in enumerate(sheet.lines)
    )  # fmt: skip
    tide = _heads("at, UTC (empty: left out)", "height", "water") + "".join(
        el("tr", cell(f"tide {n} at", f"tide_at{n}", at), cell(f"tide {n} height", f"tide_height{n}", height),
           cell(f"tide {n} water", f"tide_water{n}", water, ("high", "low")))
        for n, (at, height, water) in enumerate((*sheet.tide, *(MORE_TIDES * (("", "", "high"),))))
    )  # fmt: skip
    body = el(
        "form",
        el("div", field("file", "name of the file, without .toml", "mid", value=f"{sheet.name}-next"),
           field("name", "name of the stay", "mid", value=values.get("name", "")),
           choice("side_to", "side to", ("port", "starboard"), values.get("side_to", "")),
           field("midships_along", "midships along", value=values.get("midships_along", "")),
           field("draught_forward", "draught forward", value=values.get("draught_forward", "")),
           field("draught_aft", "draught aft", value=values.get("draught_aft", "")),
           field("tended_at", "lines tended at, UTC", "mid", value=values.get("tended_at", "")),
           field("local_time_ahead_of_utc", "local time is UTC plus", value=values["local_time_ahead_of_utc"]),
           class_="row"),
        el("h3", "Lines as led"), el("table", lines), el("h3", "Tide"), el("table", tide),
        el("div", el("button", "Write this stay", type="submit"), class_="row"),
        *(el("input", type="hidden", name=key, value=value)
          for key, value in (("copied", sheet.name), ("ship", values["ship"]), ("berth", values["berth"]))),
        data_form="stay", data_live="stay-draft", data_anonymous="1",
    )  # fmt: skip
    return el("h2", "Set up a stay") + copy + body


def draft(made: Draft, draw: Callable[[Plan, float, float], str]) -> str:
    """What the form makes: its faults, or its plan and what it assumes; the file as it would be."""
    parts = [el("h2", how_many(made.faults) if made.faults else "No faults")]
    parts += [el("p", esc(fault), class_="strong") for fault in made.faults]
    if made.plan is not None:
        parts.append(draw(made.plan, 640, 260))
    if made.assumed:
        parts += [el("h3", "Assumed"), el("ul", *(el("li", esc(words)) for words in made.assumed))]
    parts.append(el("details", el("summary", "The file"), el("pre", el("code", esc(made.text)))))
    return "".join(parts)
