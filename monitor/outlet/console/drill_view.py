"""The drill in the console: choose, tap where both ends go and where you would stand, then see the recoil fly.

Striped all round and marked DRILL, so that nobody takes it for the watch; while an alarm waits for its answer the
drill is covered by it. A script of its own marks the squares and plays the film, which is plain SVG.
"""

# ruff: noqa: E501  (a style sheet, a script: their lines are theirs)

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from itertools import product
from secrets import randbelow
from typing import Final

import numpy as np

from monitor.outlet.console.desk import Drilled
from monitor.outlet.console.forms import choice, field
from monitor.outlet.console.headline import headline
from monitor.outlet.console.rows import button
from monitor.outlet.console.svg import box, el, esc, rule, shape, stroke, text
from monitor.outlet.drill_sheet import DrillSheet, Flight, score_in_words
from monitor.outlet.worst_places import IN_REACH
from monitor.records.decks import QUAY, Place
from monitor.records.events import AlertState, Priority
from monitor.records.picture import Picture, Plan

Px = list[tuple[float, float]]

WIDE_PX: Final = 1200.0  # of the drawing at most, which is scaled to the room there is
TALL_PX: Final = 800.0
FRAMES: Final = 90
SHOWN_S: Final = 8.0  # of film, whatever the recoil takes
SHARES: Final = ("25", "50", "75", "100")
ANY: Final = "any line"
BEGIN: Final = (
    "A line parts somewhere. Say where both ends fly, whether the figure is struck, and where you would stand; then "
    "see the simulated recoil. Choose a line above, or let one be drawn, and begin."
)
STEPS: Final = (
    ("inboard", "1", "Where does the end fast on board go?", "out", "Beyond the picture"),
    ("outboard", "2", "Where does the end fast ashore go?", "out", "Beyond the picture"),
    ("stand", "4", "Where would you stand?", "off", "Off deck and quay edge"),
)


# --- words and forms ----------------------------------------------------------------------------------------


def shown(drilled: Drilled, plan: Plan, said: Mapping[str, str]) -> dict[str, str]:
    """The parts of the view for a task, or for its answer."""
    task = asking(drilled.sheet, said) if drilled.marks is None else answered(drilled)
    return {"drill_choice": choosing(plan, said), "drill_map": picture_of(drilled), "drill_task": task}


def choosing(plan: Plan, said: Mapping[str, str]) -> str:
    """What is drilled: any line, those of one deck, or one of them, at a share of its breaking force."""
    decks = [ground.name for ground in plan.grounds if ground.name != QUAY and ground.fittings]
    among = (ANY, *decks, *(way.line for way in plan.ways))
    return el(
        "form",
        el("div", choice("among", "line that parts", among, said.get("among") or ANY),
           choice("share", "at % of its strength", SHARES, said.get("share") or "50"),
           field("seed", "number of the drill", inputmode="numeric", placeholder="at random", maxlength="6"),
           el("button", "Another drill" if said else "Begin", type="submit"), class_="row"),
        data_form="drill-choose", data_anonymous="1",
    )  # fmt: skip


def asking(sheet: DrillSheet, said: Mapping[str, str]) -> str:
    """The task in words, and the four questions."""
    asked = []
    for name, number, words, word, means in STEPS:
        square = el("input", name=name, class_="drill-square", required=True, placeholder="square", autocomplete="off",
                    pattern=f"[A-Za-z][0-9]{{1,2}}|{word}", title=f"a square, or {word}", aria_label=words)  # fmt: skip
        keys = el("div", square, _key(means, "say", data_into=name, data_word=word), class_="row")
        asked.append(el("div", el("p", el("b", number), esc(f" {words}")), keys))
    figure = el(
        "div", el("p", el("b", "3"), " Is the figure in the picture struck?"),
        el("div", *(
            el("label", el("input", type="radio", name="figure", value=value, required=True), esc(words), class_="tick")
            for value, words in (("struck", "struck"), ("not-struck", "not struck"))
        ), class_="row", role="radiogroup", aria_label="Is the figure in the picture struck?"),
    )  # fmt: skip
    kept = (el("input", type="hidden", name=name, value=said.get(name, "")) for name in ("among", "share", "seed"))
    task = f"{sheet.way.line} parts at the cross, at {sheet.tension_n / 1e3:.0f} kN. Why just there: {sheet.why}."
    how = "Tap squares of the picture, or type their names."
    return (
        el("p", el("b", esc(task)))
        + el("p", esc(how), class_="small")
        + el("form", *asked[:2], figure, asked[2], *kept,
             el("div", el("button", "See the recoil", type="submit"), class_="row"),
             data_form="drill", data_anonymous="1", id="drill-answer")
        + el("p", esc(f"{IN_REACH}."), class_="strong")
    )  # fmt: skip


def answered(drilled: Drilled) -> str:
    """The marks in words; the film again."""
    assert drilled.marks is not None
    told = score_in_words(drilled.sheet, drilled.marks).strip().splitlines()
    ends_s = max(float(part.times_s[-1]) for part in drilled.parts)
    slow = f"The film shows {ends_s:.1f} s in {SHOWN_S:.0f} s. Every second simulated break flies over houses and fittings."
    return (
        el("h3", esc(told[0]))
        + el("div", _key("Play again", "play"), class_="row")
        + "".join(el("p", esc(row)) for row in told[1:] if row)
        + el("p", esc(slow), class_="small")
    )


def _key(words: str, does: str, **data: str) -> str:
    """A key that the drill's own script acts on."""
    return el("button", esc(words), type="button", class_="quiet", data_drill=does, **data)


def asked_for(fields: Mapping[str, str]) -> dict[str, str]:
    """The fields of the forms as the desk takes them: any line is no choice, an empty number one at random."""
    return {
        **fields,
        "among": "" if fields.get("among") == ANY else fields.get("among", ""),
        "seed": fields.get("seed") or str(1 + randbelow(9999)),
    }


def called(picture: Picture) -> str:
    """What covers the drill while an alarm waits for an answer; "" without one."""
    waiting = [
        alert for alert in picture.alerts
        if alert.priority is Priority.ALARM and alert.state is AlertState.UNACKNOWLEDGED
    ]  # fmt: skip
    if not waiting:
        return ""
    return el(
        "div", el("p", "THE WATCH CALLS: THE DRILL STOPS HERE", class_="strong"),
        el("p", esc(headline(picture).order), class_="drill-order"),
        el("p", "This is no drill. Answer the alarm; the drill can wait."),
        el("div", button("To the watch", "view", view="watch"), class_="row"),
        class_="drill-call", role="alert",
    )  # fmt: skip


# --- the picture --------------------------------------------------------------------------------------------


class _Sheet:
    """Px of a place in metres, for one task."""

    def __init__(self, sheet: DrillSheet) -> None:
        self.wide_m, self.tall_m = sheet.side_m * len(sheet.letters), sheet.side_m * sheet.rows
        self.px_m = min(WIDE_PX / self.wide_m, TALL_PX / self.tall_m)
        self.aft_m, self.port_m = sheet.aft_m, sheet.port_m

    def at(self, spot: Sequence[float]) -> tuple[float, float]:
        return (float(spot[0]) - self.aft_m) * self.px_m, (float(spot[1]) - self.port_m) * self.px_m

    def ring(self, spots: Iterable[Sequence[float]]) -> Px:
        return [self.at((spot[0], spot[1])) for spot in spots]


def picture_of(drilled: Drilled) -> str:
    """Grounds, lines, squares, the cross and the figure; once answered the recoil flies over them."""
    sheet = drilled.sheet
    on = _Sheet(sheet)
    wide, tall = on.wide_m * on.px_m, on.tall_m * on.px_m
    x, y = on.at(sheet.parts_at)
    parts = [
        el("defs", el("pattern", rule(0, 0, 0, 12, "dv-stroke1"), id="drill-hatch", width=12, height=12,
                      patternUnits="userSpaceOnUse", patternTransform="rotate(45)"),
           el("clipPath", box(0, 0, wide, tall, ""), id="drill-clip")),
        box(0, 0, wide, tall, "water"),
        *_grounds(sheet, on),
        *_squares(sheet, on),
        *_figure(on.at(sheet.figure), max(0.5 * on.px_m, 7.0)),
        stroke([(x - 13, y - 13), (x + 13, y + 13)], "drill-cross"),
        stroke([(x - 13, y + 13), (x + 13, y - 13)], "drill-cross"),
        text(wide / 2, tall / 2, "DRILL", "drill-water", "middle"),
        *_film(drilled.parts, on),
        *_struck(drilled, on),
        *_scale_bar(on, wide, tall),
    ]  # fmt: skip
    state = "flown" if drilled.parts else "asked"
    return el(
        "svg", el("g", *parts, clip_path="url(#drill-clip)"), viewBox=f"0 0 {wide:.0f} {tall:.0f}", id="drill-map", class_=state, role="img",
        aria_label=f"Drill: {sheet.way.line} parts at the cross. Squares A1 to {sheet.letters[-1]}{sheet.rows}",
    )  # fmt: skip


def _grounds(sheet: DrillSheet, on: _Sheet) -> list[str]:
    parts = []
    for ground in sheet.site.grounds:
        for kind, fill in (("land" if ground.name == QUAY else "deck-floor", None), ("", "url(#drill-hatch)")):
            parts.append(shape(on.ring(ground.outline), kind, fill=fill))
        parts.append(shape(on.ring(ground.outline), "dv-edge"))
        parts += [shape(on.ring(ring), "dv-house") for _, ring in ground.houses]
    for way in sheet.site.ways:
        own = way.line == sheet.way.line
        parts.append(stroke(on.ring(way.points), f"dv-rope{' dv-heavy drill-own' if own else ''}"))
    for ground in sheet.site.grounds:
        parts += [_mark(place, on) for place in (*ground.fittings, *ground.stations)]
    return parts


def _mark(place: Place, on: _Sheet) -> str:
    x, y = on.at(place.at)
    if place.kind == "station":
        return shape([(x, y - 8), (x + 8, y + 6), (x - 8, y + 6)], "dv-station")
    return el("circle", cx=x, cy=y, r=max(place.radius_m * on.px_m, 4.0), class_="dv-fitting")


def _squares(sheet: DrillSheet, on: _Sheet) -> list[str]:
    side = sheet.side_m * on.px_m
    parts = []
    for (column, letter), row in product(enumerate(sheet.letters), range(sheet.rows)):
        name = f"{letter}{row + 1}"
        parts.append(box(column * side, row * side, side, side, "drill-sq", data_sq=name))
        parts.append(text(column * side + 4, row * side + 15, name, "drill-name halo"))
    return parts


def _figure(at: tuple[float, float], head: float) -> list[str]:
    x, y = at
    body = [(x, y + head), (x, y + 3.6 * head)]
    arms = [(x - 1.6 * head, y + 1.9 * head), (x + 1.6 * head, y + 1.9 * head)]
    return [
        stroke(body, "drill-figure"),
        stroke(arms, "drill-figure"),
        el("circle", cx=x, cy=y, r=head, class_="drill-head"),
    ]


def _struck(drilled: Drilled, on: _Sheet) -> list[str]:
    """Beside the figure, once it is known."""
    if drilled.marks is None:
        return []
    x, y = on.at(drilled.sheet.figure)
    words = f"struck in {drilled.marks.struck} of {drilled.marks.breaks}"
    return [text(x, y - 1.4 * max(0.5 * on.px_m, 7.0), words, "label strong halo", "middle")]


def _film(parts: Sequence[Flight], on: _Sheet) -> list[str]:
    """Both parts as they fly, slowed down; then the ways of their ends."""
    if not parts:
        return []
    ends_s = max(float(part.times_s[-1]) for part in parts)
    drawn, trails = [], []
    for part in parts:
        frames = [on.ring(part.at(at_s)) for at_s in np.linspace(0.0, ends_s, FRAMES)]
        lines = [" ".join(f"{x:.0f},{y:.0f}" for x, y in frame) for frame in frames]
        for kind in ("drill-under", "drill-flies"):
            moves = el("animate", attributeName="points", values=";".join(lines), dur=f"{SHOWN_S:g}s",
                       begin="indefinite", fill="freeze")  # fmt: skip
            drawn.append(el("polyline", moves, points=lines[0], class_=kind))
        tips = [frame[-1] for frame in frames]
        moves = "".join(
            el("animate", attributeName=name, values=";".join(f"{tip[axis]:.0f}" for tip in tips), dur=f"{SHOWN_S:g}s",
               begin="indefinite", fill="freeze")
            for axis, name in enumerate(("cx", "cy"))
        )  # fmt: skip
        drawn.append(el("circle", moves, cx=tips[0][0], cy=tips[0][1], r=7, class_="drill-tip"))
        trails.append(stroke(on.ring(part.lines_m[:, -1]), "drill-trail"))
    return [*trails, *drawn]


def _scale_bar(on: _Sheet, wide: float, tall: float) -> list[str]:
    x, y, long = 12.0, tall - 14.0, 10.0 * on.px_m
    ticks = [(x, y - 6), (x, y), (x + long, y), (x + long, y - 6)]
    return [stroke(ticks, "dv-scale"), text(x + long + 6, y, "10 m", "small halo"),
            text(wide - 8, y, "bow ▸", "small halo", "end")]  # fmt: skip


STYLE: Final = """
.drill.shown { display: grid; gap: 8px; height: 100%; position: relative; grid-template-columns: minmax(0, 1fr) minmax(320px, 30%);
  grid-template-rows: auto minmax(0, 1fr); padding: 12px; background: repeating-linear-gradient(-45deg, var(--ink) 0 12px, var(--paper) 12px 24px); }
.drill-band { grid-column: 1 / -1; display: flex; flex-wrap: wrap; gap: 4px 24px; align-items: end; background: var(--panel); padding: 6px 10px; border-radius: 4px; }
.drill-band > strong { font-size: 30px; line-height: 1.1; letter-spacing: 0.06em; align-self: center; } .drill-band form .row { margin: 0; }
.drill .a-map { display: flex; } .drill .a-map > div, .drill .a-map svg { width: 100%; height: 100%; }
.drill input[type="radio"] { appearance: none; width: 26px; min-height: 26px; padding: 0; border-radius: 50%; } .drill input[type="radio"]:checked { background: radial-gradient(var(--ink) 45%, var(--paper) 52%); }
.drill .card { overflow: auto; min-height: 0; } .drill form label { font-size: 16px; } .drill form p { margin: 4px 0 2px; }
#drill-map.asked .drill-sq { cursor: crosshair; } .drill-sq { fill: transparent; stroke: var(--dim); stroke-width: 0.6; } #drill-map.asked .drill-sq:hover { fill: var(--band); fill-opacity: 0.35; }
svg .drill-name { font-size: 15px; fill: var(--ink); pointer-events: none; } svg .drill-water { font-size: 190px; font-weight: 800; letter-spacing: 0.2em; opacity: 0.11; pointer-events: none; dominant-baseline: central; }
.drill-said { fill: none; stroke: var(--ink); stroke-width: 4; pointer-events: none; } svg .drill-said-number { font-size: 24px; font-weight: 800; pointer-events: none; }
.drill-cross { stroke: var(--ink); stroke-width: 7; fill: none; pointer-events: none; } .drill-figure { stroke: var(--ink); stroke-width: 5; fill: none; pointer-events: none; } .drill-head { fill: var(--ink); stroke: var(--panel); stroke-width: 1.5; pointer-events: none; }
.drill-under { fill: none; stroke: var(--panel); stroke-width: 10; stroke-linejoin: round; } .drill-flies { fill: none; stroke: var(--ink); stroke-width: 5; stroke-linejoin: round; }
.drill-tip { fill: var(--ink); stroke: var(--panel); stroke-width: 2; } .drill-trail { fill: none; stroke: var(--ink); stroke-width: 2; stroke-dasharray: 3 6; } .flown .drill-own, .flown .drill-cross { opacity: 0.35; }
.drill-square { width: 6em; } .drill-next { outline: 4px solid var(--ink); }
.drill-call { position: absolute; inset: 0; z-index: 5; background: var(--alarm); color: var(--alarm-ink); padding: 4vh 4vw; overflow: auto; font-size: 24px; } .drill-order { font-size: clamp(40px, 4vw, 72px); font-weight: 800; line-height: 1.1; }
@media (max-height: 820px) { .drill.shown { padding: 8px; gap: 6px; } .drill form button, .drill form input { min-height: 34px; padding: 3px 8px; font-size: 15px; } .drill .card form .row { margin-bottom: 3px; } .drill-band > strong { font-size: 22px; } .drill .card p { margin: 0 0 4px; } .drill .card h2 { display: none; } .drill .card form .row { flex-wrap: nowrap; } .drill input[type="radio"] { min-height: 22px; width: 22px; padding: 0; } }
@media (max-height: 660px), (max-width: 1100px) { .drill.shown { height: auto; grid-template-columns: minmax(0, 1fr); grid-template-rows: auto minmax(320px, 60vh) auto; } }
"""

SCRIPT: Final = r"""
(() => {
  const $ = (selector) => document.querySelector(selector), NS = "http://www.w3.org/2000/svg";
  const names = ["inboard", "outboard", "stand"];
  const of = (name) => $(`#drill-answer [name="${name}"]`);
  let next = "inboard";
  const show = () => {  // the squares said so far, with the numbers of their questions
    const map = $("#drill-map"); if (!map) return;
    map.querySelectorAll(".drill-said, .drill-said-number").forEach((each) => each.remove());
    names.forEach((name, n) => {
      const from = of(name); if (!from) return;
      from.classList.toggle("drill-next", name === next);
      const square = map.querySelector(`[data-sq="${CSS.escape(from.value.trim().toUpperCase())}"]`); if (!square) return;
      const mark = square.cloneNode(); mark.setAttribute("class", "drill-said"); mark.removeAttribute("data-sq");
      const number = document.createElementNS(NS, "text"); number.setAttribute("class", "drill-said-number halo");
      const room = square.width.baseVal.value, at = (axis) => Number(square.getAttribute(axis));
      number.setAttribute("x", at("x") + room * (n + 1) / 4 - 7); number.setAttribute("y", at("y") + room - 6);
      number.textContent = [1, 2, 4][n];
      map.append(mark, number);
    });
  };
  const say = (name, word) => {
    const into = of(name); if (!into) return;
    into.value = word;
    next = names.find((each) => of(each) && !of(each).value) || name;
    show();
  };
  const play = () => document.querySelectorAll("#drill-map animate").forEach((each) => each.beginElement());
  addEventListener("click", (event) => {
    const square = event.target.closest("#drill-map.asked [data-sq]"), word = event.target.closest("[data-drill='say']");
    if (square) say(next, square.dataset.sq);
    if (word) say(word.dataset.into, word.dataset.word);
    if (event.target.closest("[data-drill='play']")) play();
  });
  addEventListener("focusin", (event) => { if (event.target.closest("#drill-answer") && names.includes(event.target.name)) { next = event.target.name; show(); } });
  addEventListener("input", (event) => { if (event.target.closest("#drill-answer")) show(); });
  const still = matchMedia("(prefers-reduced-motion: reduce)");
  const when = (selector, act, left) => { $(selector) ? act() : left && setTimeout(() => when(selector, act, left - 1), 100); };
  window.bw_drill = {
    begin: () => { next = "inboard"; setTimeout(show, 200); },
    fly: () => when("#drill-map.flown", () => { if (!still.matches) play(); }, 100),
  };
})();
"""
