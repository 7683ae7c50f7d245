"""The page: one screen of its own for each browser that opens it, kept up to date once a second."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from typing import Any, Final

from nicegui import events, run, ui

from monitor.outlet.console import ahead, drill_view, forms, instruments, rows
from monitor.outlet.console.approach import approach_drawing
from monitor.outlet.console.deck_view import deck_words, decks_drawing
from monitor.outlet.console.desk import Desk, Reel
from monitor.outlet.console.handover import handover
from monitor.outlet.console.plan import bare_plan, plan_drawing
from monitor.outlet.console.ribbon import ribbon_drawing
from monitor.outlet.console.script import SCRIPT
from monitor.outlet.console.style import sheet
from monitor.outlet.console.svg import el, esc
from monitor.records.events import AlertState, Priority
from monitor.records.picture import Picture

BEAT_S: Final = 1.0
LEAST_PX: Final = 200, 60
MOST_PX: Final = 4000, 2500
FIRST_SIZES: Final = {"plan": (1380, 420), "approach": (1380, 120), "ribbon": (1380, 260), "decks": (1380, 700)}
DRAWINGS: Final[dict[str, tuple[str, Callable[[Picture, float, float], str]]]] = {  # part → view, builder
    "plan": ("watch", plan_drawing),
    "approach": ("watch", approach_drawing),
    "ribbon": ("watch", ribbon_drawing),
    "decks": ("decks", decks_drawing),
}
LISTS: Final[dict[str, tuple[str, Callable[[Picture], str]]]] = {  # part → view ("" on all), builder
    "sentence": ("", rows.sentence),
    "flags": ("", rows.flags),
    "alerts": ("watch", rows.alerts),
    "briefly": ("watch", ahead.briefly),
    "chances": ("ahead", ahead.chances),
    "ships": ("ahead", ahead.ships),
    "tending": ("ahead", ahead.tending),
    "losses": ("ahead", ahead.losses),
    "deck_words": ("decks", deck_words),
    "line_rows": ("inputs", rows.line_rows),
    "people": ("inputs", rows.people),
    "craft": ("inputs", rows.craft),
    "feeds": ("feeds", rows.feeds),
    "winds": ("feeds", instruments.winds),
    "levels": ("feeds", instruments.levels),
    "limits": ("feeds", rows.limits),
    "doubts": ("feeds", rows.doubts),
    "handover": ("hand-over", handover),
    "log": ("log", rows.log),
    "drill_call": ("drill", drill_view.called),
}


class Screen:
    """What one browser shows. The page's script does the clock, the countdown, the sound and the stale state."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._view = "watch"
        self._sizes: dict[str, tuple[int, int]] = dict(FIRST_SIZES)
        self._parts: dict[str, ui.html] = {}
        self._drawn: dict[str, tuple[Picture, tuple[int, int]]] = {}
        self._build()
        ui.on("bw_size", self._resized)
        ui.on("bw_do", self._do)
        ui.on("bw_form", self._form)
        ui.on("bw_player", self._player)
        ui.on("bw_form", self._drill)
        self.refresh()
        ui.timer(BEAT_S, self.beat)
        ui.timer(0.0, lambda: ui.run_javascript("bw.begin()"), once=True)

    # --- what is where --------------------------------------------------------------------------------------

    def _part(self, name: str, kind: str = "") -> None:
        self._parts[name] = ui.html("", sanitize=False).classes(kind)

    def _build(self) -> None:
        ui.add_head_html(f"<style>{sheet()}{drill_view.STYLE}</style><script>{SCRIPT}{drill_view.SCRIPT}</script>")
        replay = self._desk.reel() is not None
        with ui.element("div").classes("bw"):
            with ui.element("header"):
                self._part("sentence")
                self._part("flags", "flags")
            ui.html(forms.player() if replay else "", sanitize=False, tag="div").classes("player")
            with ui.element("main").classes("stage"):
                self._watch()
                with ui.element("section").classes("view ahead").props("data-view=ahead"), _cards():
                    self._card("Ships coming", "ships")
                    self._card("Tend first, while light", "tending")
                    self._card("If a line goes", "losses")
                    self._card("Chances, expected", "chances", "wide")
                with ui.element("section").classes("view decks").props("data-view=decks"):
                    self._draw("decks")
                    self._card("Where a parted line is worst", "deck_words", scrolls=True)
                self._inputs(replay)
                with ui.element("section").classes("view").props("data-view=feeds"), _cards():
                    self._card("Feeds", "feeds", "wide")
                    self._card("Wind: which is believed", "winds")
                    self._card("Water level", "levels")
                    self._card("Berth limits", "limits")
                    self._card("How far to trust it", "doubts")
                with ui.element("section").classes("view").props("data-view=what-if"), _cards():
                    ui.html(forms.what_if(), sanitize=False).classes("card")
                    self._part("answer", "card")
                with ui.element("section").classes("view hand-over").props("data-view=hand-over"):
                    self._part("handover", "card")
                with ui.element("section").classes("view").props("data-view=stay"):
                    self._stay()
                with ui.element("section").classes("view").props("data-view=log"):
                    self._card("Log", "log")
                self._drills()
            ui.html(forms.foot(), sanitize=False, tag="footer").classes("foot")
        ui.html(forms.dialogs(), sanitize=False)

    def _watch(self) -> None:
        with ui.element("section").classes("view watch shown").props("data-view=watch"):
            for name, (view, _) in DRAWINGS.items():
                if view == "watch":
                    self._draw(name)
            with ui.element("aside").classes("side").props('aria-label="Alerts and what lies ahead"'):
                self._card("Alerts", "alerts", scrolls=True)
                self._card("Ahead", "briefly", scrolls=True)

    def _draw(self, name: str) -> None:
        with ui.element("div").classes(f"draw a-{name}").props(f"data-draw={name}"):
            self._part(name)

    def _inputs(self, replay: bool) -> None:
        with ui.element("section").classes("view inputs").props("data-view=inputs"):
            words = "<p>REPLAY: entries are not taken.</p>" if replay else forms.entries()
            ui.html(words, sanitize=False).classes("card")
            with _cards():
                self._card("Phases and people", "people")
                self._card("Craft alongside", "craft")
                self._card("Lines", "line_rows", "wide")

    def _stay(self) -> None:
        filled = self._desk.stay_sheet()
        with ui.element("div").classes("stay"):
            words = forms.stay(filled) if filled else el("p", "Stays are written where the watch runs.")
            self._parts["stay"] = ui.html(words, sanitize=False).classes("card")
            self._part("draft", "card stays")
        if filled:
            self._parts["draft"].content = el("p", "The drawing and the check appear here as you type.")

    def _drills(self) -> None:
        with ui.element("section").classes("view drill").props("data-view=drill"):
            with ui.element("div").classes("drill-band"):
                ui.html("DRILL: NOT THE WATCH", sanitize=False, tag="strong")
                self._part("drill_choice")
            with ui.element("div").classes("draw a-map"):
                self._part("drill_map")
            self._card("Drill: where does it go?", "drill_task", scrolls=True)
            self._part("drill_call", "drill-cover")
        self._parts["drill_task"].content = el("p", esc(drill_view.BEGIN))

    def _card(self, title: str, name: str, kind: str = "", scrolls: bool = False) -> None:
        card = ui.element("section").classes(f"card {kind}")
        if scrolls:  # by keys too
            card.props(f'tabindex=0 role=region aria-label="{title}"')
        with card:
            ui.html(el("h2", esc(title)), sanitize=False)
            self._part(name)

    # --- keeping it up to date ------------------------------------------------------------------------------

    def beat(self) -> None:
        """Tell the page that the watch is alive, and draw what has changed."""
        picture = self.refresh()
        now, reel = self._desk.now(), self._desk.reel()
        if picture is None or now is None:
            return
        message = {
            "n": self._desk.beat(),
            "now": 1000 * now.timestamp(),
            "ahead": 1000 * picture.ahead_of_utc.total_seconds(),
            "rate": 1.0 if reel is None else reel.pace if reel.playing else 0.0,
            "replay": reel is not None,
            "player": _told(reel),
            **_sounding(picture),
        }
        ui.run_javascript(f"bw.beat({json.dumps(message)})")

    def refresh(self) -> Picture | None:
        """Draw anew the parts in view whose picture or size has changed."""
        picture = self._desk.picture()
        if picture is None:
            self._show(
                "sentence",
                '<div class="sentence unknown"><p class="order">STARTING: NOTHING IS WATCHED YET</p></div>',
            )
            return None
        for name, (view, build) in LISTS.items():
            if view in ("", self._view) and self._changed(name, picture):
                self._show(name, build(picture))
        if not self._parts["drill_choice"].content:
            self._show("drill_choice", drill_view.choosing(picture.plan, {}))
        for name, (view, draw) in DRAWINGS.items():
            if view == self._view and self._changed(name, picture, self._sizes[name]):
                self._show(name, draw(picture, *self._sizes[name]))
        return picture

    def _changed(self, name: str, picture: Picture, size: tuple[int, int] = (0, 0)) -> bool:
        last, last_size = self._drawn.get(name, (None, None))
        self._drawn[name] = picture, size
        return last is not picture or last_size != size

    def _show(self, name: str, markup: str) -> None:
        if self._parts[name].content != markup:
            self._parts[name].content = markup

    # --- what people do -------------------------------------------------------------------------------------

    def _resized(self, event: events.GenericEventArguments) -> None:
        sizes = event.args if isinstance(event.args, dict) else {}
        self._view = str(sizes.get("view", "watch"))
        for name in DRAWINGS:
            size = sizes.get(name)
            if (
                isinstance(size, list)
                and len(size) == 2
                and all(isinstance(n, int | float) and n > 0 for n in size)
            ):
                wide, high = (
                    min(max(int(n), least), most) for n, least, most in zip(size, LEAST_PX, MOST_PX, strict=True)
                )
                self._sizes[name] = wide, high
        self.refresh()

    def _do(self, event: events.GenericEventArguments) -> None:
        data = event.args if isinstance(event.args, dict) else {}
        who = _initials(data)
        if data.get("do") == "entry":
            self._enter(str(data.get("entry", "")).replace("$who", who), who, bool(data.get("clear")))
        elif data.get("do") == "play":
            reel = self._desk.reel()
            if reel is not None:
                self._desk.run(not reel.playing)

    def _enter(self, line: str, who: str, decks_clear: bool = False) -> None:
        wrong = self._desk.enter(line, who, decks_clear)
        self._say(wrong or f"Entered: {line}")

    def _form(self, event: events.GenericEventArguments) -> None:
        data = event.args if isinstance(event.args, dict) else {}
        fields = {str(key): str(value).strip() for key, value in dict(data.get("fields") or {}).items()}
        name, who = data.get("form"), _initials(data)
        if name in forms.ENTRIES:
            line = forms.ENTRIES[name](fields)
            self._enter(line, who)
        elif name == "what-if":
            self._ask(fields)
        elif name == "stay-copy":
            self._copy(fields)
        elif name == "stay-draft":
            self._draft(fields)
        elif name == "stay":
            self._say(self._desk.keep(fields))
            self._draft(fields)

    async def _drill(self, event: events.GenericEventArguments) -> None:
        """A drill is chosen, or answered; worked out beside the page, which goes on."""
        data = event.args if isinstance(event.args, dict) else {}
        picture = self._desk.picture()
        if data.get("form") not in ("drill-choose", "drill") or picture is None:
            return
        fields = {str(key): str(value).strip() for key, value in dict(data.get("fields") or {}).items()}
        said = drill_view.asked_for(fields)
        try:
            drilled = await run.io_bound(self._desk.drill, said)
        except ValueError as error:
            self._say(str(error))
            return
        if drilled is None:  # the console is closing
            return
        for name, markup in drill_view.shown(drilled, picture.plan, said).items():
            self._show(name, markup)
        ui.run_javascript("bw_drill.fly()" if drilled.marks else "bw_drill.begin()")

    def _ask(self, fields: Mapping[str, str]) -> None:
        try:
            reply = self._desk.ask(fields)
        except ValueError as error:
            self._show("answer", el("p", esc(error), class_="strong"))
            return
        told = "".join(el("p", esc(words)) for words in reply.told)
        self._show("answer", el("h2", "What the models say") + told + rows.load_rows(reply.lines))

    def _copy(self, fields: Mapping[str, str]) -> None:
        try:
            filled = self._desk.stay_sheet(fields.get("copy", ""), fields.get("ship", ""), fields.get("berth", ""))
        except (ValueError, OSError) as error:
            self._say(f"Cannot be copied: {error}")
            return
        if filled is not None:
            self._parts["stay"].content = forms.stay(filled)

    def _draft(self, fields: Mapping[str, str]) -> None:
        self._show("draft", forms.draft(self._desk.draft(fields), bare_plan))

    def _player(self, event: events.GenericEventArguments) -> None:
        data: Mapping[str, Any] = event.args if isinstance(event.args, dict) else {}
        reel = self._desk.reel()
        if reel is None:
            return
        if isinstance(data.get("to"), int | float):
            self._desk.seek(float(data["to"]))
        if isinstance(data.get("recording"), int):
            self._desk.choose(data["recording"])
            ui.run_javascript("location.reload()")  # another ship, another berth
        if isinstance(data.get("pace"), int | float):
            self._desk.run(reel.playing, min(max(float(data["pace"]), 1.0), 600.0))
        self.beat()

    def _say(self, words: str) -> None:
        ui.run_javascript(f"bw.say({json.dumps(words)})")


def _cards() -> ui.element:
    return ui.element("div").classes("cards")


def _initials(data: Mapping[str, Any]) -> str:
    return "".join(letter for letter in str(data.get("who", "")) if letter.isalpha())[:4].upper()


def _sounding(picture: Picture) -> dict[str, Any]:
    """What is to be heard: alarms go on until answered, warnings are told once for each change."""
    loud = [alert for alert in picture.alerts if alert.state is AlertState.UNACKNOWLEDGED]
    return {
        "alarms": sum(alert.priority is Priority.ALARM for alert in loud),
        "warnings": [f"{a.key}@{a.since.isoformat()}" for a in loud if a.priority is Priority.WARNING],
    }


def _told(reel: Reel | None) -> dict[str, Any] | None:
    if reel is None:
        return None
    return {
        "at": reel.at_s,
        "total": reel.total_s,
        "done": reel.done,
        "playing": reel.playing,
        "events": reel.events,
        "recordings": reel.recordings,
        "chosen": reel.chosen,
    }
