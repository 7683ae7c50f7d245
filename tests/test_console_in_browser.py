"""The console in a real Chromium: `bightwatch watch --console` as a process of its own, killed and started again.

Checked against: sizes measured in the page (10.5 mm capitals from 3 m, IEC 62288's 3.5 mm a metre, from memory;
54 px font on a 24-inch 1080p screen), the browser's own sight of elements, axe-core's WCAG 2.2 AA rules, the
journal that the watch wrote. Pictures of every screen at every palette are left in CONSOLE_SHOTS.
"""

from __future__ import annotations

import os
import re
import shutil
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import suppress
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pytest

from monitor.outlet.console import forms
from monitor.run.journal import JournalReader
from tests.conftest import ROOT
from tests.console_scene import CHROMIUM, FLAGS, STAY, needs

needs("nicegui", "playwright.sync_api", what="chromium", there=CHROMIUM)

from playwright.sync_api import Page, expect, sync_playwright  # noqa: E402

VIEWS = tuple(view for view, _ in forms.VIEWS)
pytestmark = pytest.mark.slow

PALETTES = ("day", "dusk", "night")
CAPITAL_MM = 10.5
MM_PX = 0.2768  # a 24-inch screen of 1920 by 1080: 531 mm wide
FILLED = """() => {
    const shown = (what) => [...document.querySelectorAll('.view.shown ' + what)];
    const fits = (one, other) => Math.abs(one.clientWidth - other.clientWidth) < 8
        && Math.abs(one.clientHeight - other.clientHeight) < 8;
    return shown('.card > div').every((each) => each.innerHTML.trim())
        && shown('.draw').every((room) => room.querySelector('svg') && fits(room.querySelector('svg'), room)); }"""
STALE = "document.documentElement.classList.contains('is-stale')"


class Watch:
    """A watch in a process, at a free port, on settings whose tide and feeds suit today and this machine."""

    def __init__(self, folder: Path) -> None:
        self.data, self.config = folder / "data", folder / "config"
        shutil.copytree(ROOT / "config", self.config)
        stay = self.config / "stays" / f"{STAY}.toml"
        shift = datetime.now(UTC).date() - date(2026, 3, 14)
        text = re.sub(
            r"2026-03-(\d\d)(?=T)",
            lambda m: str(date(2026, 3, int(m[1])) + shift),
            stay.read_text(encoding="utf-8"),
        )
        for usual, soon in (
            ("60 s", "6 s"),
            ("30 s", "5 s"),
        ):  # no need to wait so long here
            text = text.replace(f'stale_after = "{usual}"', f'stale_after = "{soon}"')
        for port in (20110, 20111, 20112):
            text = text.replace(f":{port}", f":{_free_port()}")
        stay.write_text(text, encoding="utf-8")
        profile = self.config / "alerts" / "river-quay.toml"
        told = profile.read_text(encoding="utf-8")
        profile.write_text(told.replace('raise_after = "20 s"', 'raise_after = "5 s"'), encoding="utf-8")
        self.port = _free_port()
        self.process: subprocess.Popen[bytes] | None = None

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.port}/"

    def start(self) -> None:
        command = [sys.executable, "-m", "monitor", "watch", STAY, "--console", "--at", f"127.0.0.1:{self.port}"]
        self.process = subprocess.Popen(
            [*command, "--config", str(self.config), "--data", str(self.data)],
            cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        until_s = time.monotonic() + 60
        while time.monotonic() < until_s:
            with socket.socket() as knock:
                if knock.connect_ex(("127.0.0.1", self.port)) == 0:
                    return
            time.sleep(0.1)
        raise AssertionError("the console did not answer within a minute")

    def kill(self) -> None:
        assert self.process is not None
        self.process.kill()
        self.process.wait()

    def stop(self) -> None:
        if self.process is not None and self.process.poll() is None:
            self.process.send_signal(signal.SIGTERM)
            try:
                self.process.wait(timeout=15)
            except subprocess.TimeoutExpired:
                self.kill()

    def entries(self) -> list[Any]:
        """The operator's entries as the journal has them."""
        with JournalReader(self.data / f"{STAY}.journal") as journal:
            return [entry.record for entry in journal.read(kinds=("OperatorAction",))]


def _free_port() -> int:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        return int(free.getsockname()[1])


@pytest.fixture(scope="module")
def watch(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Watch]:
    running = Watch(tmp_path_factory.mktemp("watch"))
    running.start()
    yield running
    running.stop()


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield chromium
        chromium.close()


@pytest.fixture(scope="module")
def page(browser: Any, watch: Watch) -> Iterator[Page]:
    """One page for all: an officer's screen is not opened anew for every act. Errors in it fail the test."""
    opened = browser.new_page(viewport={"width": 1920, "height": 1080})
    troubles: list[str] = []
    opened.on("pageerror", lambda error: troubles.append(str(error)))
    opened.goto(watch.address)
    opened.wait_for_selector("article.alert", timeout=60_000)  # its feeds are dead: that is told
    opened.fill("#who", "AB")
    opened.evaluate("document.activeElement.blur()")
    yield opened
    opened.close()
    assert troubles == []


@pytest.fixture(scope="module")
def shots(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = Path(os.environ.get("CONSOLE_SHOTS") or tmp_path_factory.mktemp("shots"))
    folder.mkdir(parents=True, exist_ok=True)
    return folder


def show(page: Page, view: str) -> None:
    """Go to a view by its key, as a hand without a mouse does; its cards fill and its drawings fit."""
    shown = page.locator(f'.view[data-view="{view}"]')
    for _ in range(3):  # a page that opens anew, its server being back, may miss a key: a hand presses again
        page.evaluate("document.activeElement.blur()")
        page.keyboard.press(str((VIEWS.index(view) + 1) % 10))
        with suppress(AssertionError):
            expect(shown).to_be_visible()
            break
    expect(shown).to_be_visible()
    if view != "drill":  # it is empty until begun
        page.wait_for_function(FILLED, timeout=20_000)


def test_what_is_not_heard_is_said(page: Page) -> None:
    """No AIS: on the strip, in the flags and as an alert; never a picture of an empty river."""
    show(page, "watch")
    expect(page.locator(".a-approach")).to_contain_text("PASSING SHIPS ARE NOT WATCHED", timeout=90_000)
    expect(page.locator(".flags")).to_contain_text("DARK: ais")
    show(page, "ahead")
    expect(page.locator('.view[data-view="ahead"]')).to_contain_text("PASSING SHIPS ARE NOT WATCHED")
    expect(page.locator(".flags")).to_contain_text("NOT MODELLED: swell")


def test_enter_wind(page: Page, watch: Watch) -> None:
    """Wind typed off the panel: in the journal under the initials, and a gale at once an alarm on the screen."""
    show(page, "inputs")
    wind = page.locator('form[data-form="wind"]')
    wind.locator('[name="speed"]').fill("48")
    wind.locator('[name="from"]').fill("310")
    wind.locator('[name="gust"]').fill("60")
    wind.locator("button").click()
    expect(page.locator("#say")).to_contain_text("Entered: wind 48 kn from 310 deg gust 60 kn")
    show(page, "watch")
    expect(page.locator("#order")).to_contain_text("CLEAR BOTH MOORING DECKS NOW", timeout=90_000)
    entry = watch.entries()[-1]
    assert entry.who == "AB" and entry.value("mean_m_s") == pytest.approx(48 * 1852 / 3600)


def test_a_fault_of_an_entry_is_told(page: Page, watch: Watch) -> None:
    show(page, "inputs")
    before = len(watch.entries())
    wind = page.locator('form[data-form="wind"]')
    wind.locator('[name="speed"]').fill("48 parsecs")
    wind.locator('[name="from"]').fill("310")
    wind.locator("button").click()
    expect(page.locator("#say")).to_contain_text("parsecs")
    assert len(watch.entries()) == before


@pytest.mark.parametrize(
    ("form", "filled", "chosen", "action", "said"),
    [
        ("draughts", {"forward": "9.1", "aft": "9.6"}, {}, "draught", {"forward_m": 9.1, "aft_m": 9.6}),
        ("craft", {"mmsi": "200333001", "area": "420"}, {}, "craft",
         {"mmsi": 200333001.0, "alongside": True, "lateral_area_m2": 420.0}),
        ("tow", {"mmsi": "200333002"}, {"tows": "none"}, "tow", {"mmsi": 200333002.0, "tows": False}),
        ("note", {"text": "Bunker barge due at four"}, {}, "note", {}),
    ],
)  # fmt: skip
def test_what_is_seen_is_entered(
    page: Page, watch: Watch, form: str, filled: Any, chosen: Any, action: str, said: Any
) -> None:
    """Draughts, craft alongside, a tug's tow, a note: from the form to the journal, in SI, under the initials."""
    show(page, "inputs")
    asked = page.locator(f'form[data-form="{form}"]')
    for name, value in filled.items():
        asked.locator(f'[name="{name}"]').fill(value)
    for name, value in chosen.items():
        asked.locator(f'[name="{name}"]').select_option(value)
    asked.locator("button").click()
    until_s = time.monotonic() + 20
    while (entry := watch.entries()[-1]).action.value != action and time.monotonic() < until_s:
        time.sleep(0.2)
    assert (entry.action.value, entry.who, dict(entry.values)) == (action, "AB", said)
    assert form != "note" or entry.subject == filled["text"]


def test_the_alarm_sounds_until_it_is_answered(page: Page) -> None:
    """Three tones, again every 8 s (IEC 62923-1: 7 to 10 s, from memory); silenced for 30 s by a key."""
    show(page, "watch")
    expect(page.locator("#sound")).to_have_text("sound on")
    first = page.evaluate("bw.toned")
    page.wait_for_function(f"bw.toned > {first}", timeout=11_000)
    page.evaluate("document.activeElement.blur()")
    page.keyboard.press("s")
    expect(page.locator("article.alert").first).to_contain_text("active, silenced")
    page.wait_for_function("bw.last.alarms === 0")
    silent, beats = page.evaluate("[bw.toned, bw.beats]")
    page.wait_for_function(f"bw.beats > {beats + 2}")  # what sounds hangs on the beats alone
    assert page.evaluate("bw.toned") == silent and page.evaluate("bw.last.alarms") == 0


def test_log_a_heavy_line(page: Page, watch: Watch) -> None:
    """One tap; the last word is shown, an alert is raised, the truth is in the journal."""
    show(page, "inputs")
    page.locator('button[data-entry="line aft spring 1 heavy"]').click()
    expect(page.locator("tr", has=page.locator('td:text-is("aft spring 1")'))).to_contain_text("HEAVY")
    show(page, "watch")
    expect(page.locator(".a-plan")).to_contain_text("HEAVY")
    expect(page.locator(".side")).to_contain_text("Line reported: aft spring 1", timeout=20_000)
    entry = watch.entries()[-1]
    assert (entry.subject, entry.value("state")) == ("aft spring 1", "heavy")


def test_acknowledge_an_alarm(page: Page, watch: Watch) -> None:
    """By keys alone: a, the tick, Enter. Without the tick the browser keeps the dialog."""
    show(page, "watch")
    alarm = page.locator("article.alert.level3").first
    page.evaluate("document.activeElement.blur()")
    page.keyboard.press("a")
    dialog = page.locator("#acknowledge")
    expect(dialog).to_be_visible()
    expect(page.locator("#ack-what")).to_contain_text("ALARM: Wind")
    page.keyboard.press("Enter")
    expect(dialog).to_be_visible()
    page.keyboard.press("Space")
    page.keyboard.press("Enter")
    expect(dialog).to_be_hidden()
    expect(alarm).to_contain_text("active, acknowledged")
    entry = next(entry for entry in reversed(watch.entries()) if entry.action.value == "acknowledge")
    assert (entry.who, entry.subject, entry.value("decks_clear")) == ("AB", "wind", True)


def test_people_on_deck_by_one_tap(page: Page) -> None:
    show(page, "inputs")
    page.locator('button[data-entry="people on forecastle"]').click()
    expect(page.locator(".flags")).to_contain_text("PEOPLE ON DECK: forecastle")
    page.locator('button[data-entry="people off"]').click()
    expect(page.locator(".flags")).not_to_contain_text("PEOPLE ON DECK")


def test_what_if(page: Page) -> None:
    """A 300 m ship at 8 kn, 90 m off: every line answers with a band; a missing number is asked for."""
    show(page, "what-if")
    form = page.locator('form[data-form="what-if"]')
    form.locator('[name="length"]').fill("300 m")
    form.locator("button").click()
    expect(page.locator('.view[data-view="what-if"]')).to_contain_text("needs length, distance and speed")
    form.locator('[name="distance"]').fill("90 m")
    form.locator('[name="speed"]').fill("8 kn")
    form.locator("button").click()
    answer = page.locator('.view[data-view="what-if"] tbody tr')
    expect(answer).to_have_count(14, timeout=60_000)
    assert re.search(r"\d+–\d+ %", answer.first.inner_text())


def test_drill_by_keys_alone(page: Page) -> None:
    """Choose, type four answers, see it fly: no mouse; marked DRILL all the while, the sentence above it."""
    show(page, "drill")
    expect(page.locator(".drill-band")).to_contain_text("DRILL: NOT THE WATCH")
    page.locator('.drill [name="among"]').focus()
    page.keyboard.type("aft breast 1")
    page.locator('.drill [name="seed"]').focus()
    page.keyboard.type("5")
    page.keyboard.press("Enter")
    expect(page.locator("#drill-map.asked")).to_be_visible(timeout=60_000)
    page.locator('#drill-answer [name="inboard"]').focus()
    for typed in ("a1", "Tab", "Tab", "out", "Tab", "Tab", " ", "Tab", "off"):
        if typed == "Tab":
            page.keyboard.press("Tab")
        else:
            page.keyboard.type(typed)
    expect(page.locator(".drill-said-number")).to_have_text("1")
    page.keyboard.press("Enter")
    expect(page.locator("#drill-map.flown")).to_be_visible(timeout=60_000)
    tip = page.locator("#drill-map .drill-tip").first
    moved = "(tip) => tip.cx.animVal.value !== tip.cx.baseVal.value"
    page.wait_for_function(f"() => ({moved})(document.querySelector('#drill-map .drill-tip'))", timeout=20_000)
    expect(tip).to_be_visible()
    expect(page.locator(".drill .card")).to_contain_text("simulated breaks of this line")
    expect(page.locator("#order")).to_be_in_viewport()


def test_set_up_a_stay(page: Page, watch: Watch) -> None:
    """A copy of this call: checked as one types, drawn, written as the same TOML."""
    show(page, "stay")
    form = page.locator('form[data-form="stay"]')
    form.locator('[name="side_to"]').select_option("starboard")
    draft = page.locator(".stays")
    expect(draft).to_contain_text("faults", timeout=20_000)
    form.locator('[name="side_to"]').select_option("port")
    expect(draft).to_contain_text("No faults", timeout=20_000)
    expect(draft.locator("svg")).to_be_visible()
    first = form.locator('[name="pretension0"]')
    pretension = first.input_value()
    first.press_sequentially("x")  # as one types: the field is not left
    expect(draft).to_contain_text("1 fault", timeout=20_000)
    first.fill(pretension)
    expect(draft).to_contain_text("No faults", timeout=20_000)
    form.locator('[name="file"]').fill("next-call")
    form.locator("button").click()
    expect(page.locator("#say")).to_contain_text("Written: next-call.toml")
    assert (watch.config / "stays" / "next-call.toml").is_file()


@pytest.mark.parametrize("size", [(1366, 768), (1536, 864), (1920, 1080), (1920, 1200)])
def test_the_sentence_is_large_enough(page: Page, size: tuple[int, int]) -> None:
    """Capitals of 10.5 mm and more on a 24-inch screen; nothing lies outside the screen, the foot is in sight."""
    page.set_viewport_size({"width": size[0], "height": size[1]})
    show(page, "watch")
    font_px = page.evaluate("parseFloat(getComputedStyle(document.querySelector('#order')).fontSize)")
    capital_px = page.evaluate(
        """() => { const c = document.createElement('canvas').getContext('2d');
        c.font = getComputedStyle(document.querySelector('#order')).font; const m = c.measureText('H');
        return m.actualBoundingBoxAscent; }"""
    )
    assert font_px >= 54 and capital_px * MM_PX >= CAPITAL_MM
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    foot = page.locator(".foot").bounding_box()
    assert foot is not None and foot["y"] + foot["height"] <= size[1] + 1 and foot["height"] < 60
    for part in ("plan", "approach", "ribbon"):
        room, drawn = page.locator(f".a-{part}").bounding_box(), page.locator(f".a-{part} svg").bounding_box()
        assert room is not None and drawn is not None
        assert abs(room["width"] - drawn["width"]) < 8 and abs(room["height"] - drawn["height"]) < 8
    page.set_viewport_size({"width": 1920, "height": 1080})


@pytest.mark.parametrize("scaling", [1.25, 1.5])
def test_scaled_screens(browser: Any, watch: Watch, shots: Path, scaling: float) -> None:
    """125 % and 150 % on 1920 by 1080: no sideways scrolling, the sentence in sight."""
    context = browser.new_context(
        viewport={"width": round(1920 / scaling), "height": round(1080 / scaling)}, device_scale_factor=scaling
    )
    page = context.new_page()
    page.goto(watch.address)
    page.wait_for_selector("article.alert", timeout=30_000)
    page.wait_for_function(FILLED, timeout=20_000)
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    expect(page.locator("#order")).to_be_in_viewport()
    page.screenshot(path=shots / f"scaled-{round(100 * scaling)}.png")
    context.close()


@pytest.mark.parametrize("palette", PALETTES)
def test_contrast_and_pictures(page: Page, shots: Path, palette: str) -> None:
    """axe-core finds nothing against WCAG 2.2 AA on any view; a picture of each is kept. Between palettes only the
    colours differ."""
    axe = Path(os.environ.get("AXE_CORE") or ROOT / "node_modules" / "axe-core" / "axe.min.js")
    needs(what="axe-core (npm; AXE_CORE names axe.min.js)", there=axe.is_file())
    page.evaluate(axe.read_text(encoding="utf-8"))
    page.evaluate(f"bw.palette('{palette}')")
    rules = "['wcag2a', 'wcag2aa', 'wcag21aa', 'wcag22aa']" if palette == "day" else "['color-contrast']"
    found = []
    for view in VIEWS:
        show(page, view)
        page.screenshot(path=shots / f"{palette}-{view}.png")
        checked = page.evaluate(f"axe.run(document, {{runOnly: {rules}, resultTypes: ['violations']}})")
        assert any(rule["id"] == "color-contrast" for rule in checked["passes"])
        found += [(view, rule["id"], rule["nodes"][0]["html"][:200]) for rule in checked["violations"]]
    page.evaluate("bw.palette('day')")
    assert found == []


def test_the_hand_over_page_prints_black_on_white(page: Page, shots: Path) -> None:
    """Also from the night palette: dark ink on white, no wider than the sheet, on three pages of A4 at most."""
    page.evaluate("bw.palette('night')")
    show(page, "hand-over")
    page.emulate_media(media="print")
    page.set_viewport_size({"width": 703, "height": 1000})  # A4 less margins of 12 mm, at 96 px an inch
    inks = page.evaluate(
        """[...document.querySelectorAll('.sentence *, .flags *, .hand-over *')].filter((each) =>
        each.offsetParent && each.textContent.trim()).map((each) => getComputedStyle(each).color)"""
    )
    assert len(inks) > 30
    assert all(max(map(int, re.findall(r"\d+", ink)[:3])) <= 0x33 for ink in inks)
    grounds = page.evaluate(
        """['body', '.sentence', '.hand-over .card'].map((each) =>
        getComputedStyle(document.querySelector(each)).backgroundColor)"""
    )
    assert all(ground in ("rgb(255, 255, 255)", "rgba(0, 0, 0, 0)") for ground in grounds)
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    page.emulate_media(media="screen")
    page.set_viewport_size({"width": 1920, "height": 1080})
    printed = page.pdf(path=shots / "hand-over.pdf", format="A4")
    page.evaluate("bw.palette('day')")
    assert 1 <= len(re.findall(rb"/Type\s*/Page\b", printed)) <= 3


def test_every_key_can_be_reached_without_a_mouse(page: Page) -> None:
    """Tab goes through every enabled key and field of the views, and the focus can be seen."""
    for view in ("watch", "inputs"):
        show(page, view)
        wanted = page.evaluate(
            """[...document.querySelectorAll('button, input, select')].filter(
            (each) => each.offsetParent && !each.disabled && each.type !== 'hidden').length"""
        )
        page.evaluate("document.activeElement.blur(); window.reached = new Set()")
        for _ in range(wanted + 25):
            page.keyboard.press("Tab")
            page.evaluate("reached.add(document.activeElement)")
        reached = page.evaluate("[...reached].filter((each) => each.matches('button, input, select')).length")
        assert reached >= wanted
        outlined = "getComputedStyle(document.activeElement).outlineStyle"
        page.keyboard.press("Tab")
        assert page.evaluate(outlined) != "none"


REACH = """async ([address, socket]) => {
    const body = JSON.stringify({line: 'note from elsewhere', who: 'XX'});
    const headers = {'content-type': 'text/plain'};
    await fetch(address, {method: 'POST', mode: 'no-cors', headers, body}).catch(() => 0);
    return new Promise((done) => {
        const ws = new WebSocket(socket); ws.onopen = () => done('open'); ws.onerror = () => done('refused'); });
}"""


def test_another_page_cannot_reach_in(browser: Any, page: Page, watch: Watch) -> None:
    """A page of another origin in the same browser: its entry and its socket are refused, our own page's not."""
    socket_address = f"ws://127.0.0.1:{watch.port}/_nicegui_ws/socket.io/?EIO=4&transport=websocket"
    reach = [f"{watch.address}api/entries", socket_address]
    other = browser.new_page()
    other.route(
        "http://elsewhere.invalid/", lambda route: route.fulfill(body="<p>x</p>", content_type="text/html")
    )
    other.goto("http://elsewhere.invalid/")
    assert other.evaluate(REACH, reach) == "refused"
    other.close()
    opens = """(at) => new Promise((done) => {
        const ws = new WebSocket(at); ws.onopen = () => done('open'); ws.onerror = () => done('refused'); })"""
    assert page.evaluate(opens, socket_address) == "open"
    assert not any(entry.who == "XX" for entry in watch.entries())


def test_a_lost_server_is_told_by_the_page_alone(page: Page, watch: Watch, shots: Path) -> None:
    """Killed: stale within 5 s, in words, with sound. Started again: it recovers alone, alerts and log there."""
    show(page, "watch")
    page.wait_for_function(f"!{STALE}")
    tones = page.evaluate("bw.toned")
    watch.kill()
    begun_s = time.monotonic()
    page.wait_for_function(STALE, timeout=8000)
    assert time.monotonic() - begun_s < 5.0
    expect(page.locator("#stale")).to_contain_text(re.compile(r"THIS PICTURE IS \d+ s OLD"))
    expect(page.locator("#stale")).to_contain_text("The watch does not answer")
    page.wait_for_function(f"bw.toned > {tones}", timeout=6000)
    page.screenshot(path=shots / "stale.png")
    watch.start()
    page.wait_for_function(f"window.bw && !{STALE} && document.querySelector('article.alert')", timeout=60_000)
    expect(page.locator(".side")).to_contain_text("active, acknowledged", timeout=20_000)
    show(page, "log")
    expect(page.locator('.view[data-view="log"]')).to_contain_text("Wind")
    page.wait_for_function("document.querySelector('#who')?.value === 'AB'", timeout=20_000)


def test_replay_in_the_page(browser: Any, tmp_path: Path, watch: Watch, shots: Path) -> None:
    """The journal of this very watch, played: REPLAY on every view, held, gone to an event, entries not taken."""
    watch.stop()
    port, journal = _free_port(), watch.data / f"{STAY}.journal"
    played = subprocess.Popen(
        [sys.executable, "-m", "monitor", "console", str(journal), "--at", f"127.0.0.1:{port}"],
        cwd=ROOT, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
    )  # fmt: skip
    try:
        page = browser.new_page(viewport={"width": 1920, "height": 1080})
        for _ in range(300):
            with socket.socket() as knock:
                if knock.connect_ex(("127.0.0.1", port)) == 0:
                    break
            time.sleep(0.1)
        page.goto(f"http://127.0.0.1:{port}/")
        page.wait_for_selector("#order", timeout=30_000)
        page.wait_for_function("document.querySelector('#jump').options.length > 1", timeout=60_000)
        page.click("#play")
        expect(page.locator("#play")).to_have_text("Play")
        alarm = page.locator("#jump option", has_text="ALARM").first
        page.select_option("#jump", value=alarm.get_attribute("value"))
        page.wait_for_function("bw.last.player.at == document.querySelector('#jump').value")
        expect(page.locator("#order")).not_to_contain_text("CLEAR BOTH MOORING DECKS NOW")
        page.select_option("#pace", "20")
        page.click("#play")
        expect(page.locator("#order")).to_contain_text("CLEAR BOTH MOORING DECKS NOW", timeout=20_000)
        for view in VIEWS:
            page.evaluate(f"bw.show('{view}')")
            expect(page.locator(".flag.replay")).to_be_visible()
            expect(page.locator(".player")).to_be_visible()
        assert page.locator("button[data-do='entry']:not([disabled])").count() == 0
        page.evaluate("bw.show('watch')")
        page.wait_for_function(FILLED, timeout=20_000)
        page.screenshot(path=shots / "replay.png")
        page.close()
    finally:
        played.kill()
        played.wait()
