"""What runs in the page itself: its clock, its age, the stale state, sound, keys. It says "stale" without a server."""

# ruff: noqa: E501  (a style sheet, a script: their lines are theirs)

from __future__ import annotations

from typing import Final

STALE_AFTER_MS: Final = 4000  # of silence; the check runs four times a second, so it shows within 5 s

SCRIPT: Final = (
    f"const STALE_AFTER_MS = {STALE_AFTER_MS};"
    + r"""
(() => {
  const bw = window.bw = { last: null, heardAt: performance.now(), beats: -1, warned: new Set(), view: "watch" };
  const root = document.documentElement;
  const $ = (selector) => document.querySelector(selector);
  const two = (n) => String(Math.floor(n)).padStart(2, "0");

  // --- the age of the picture -------------------------------------------------------------------------------
  bw.beat = (beat) => {
    if (beat.n === bw.beats) return;
    bw.beats = beat.n; bw.heardAt = performance.now(); bw.last = beat;
    root.classList.toggle("is-replay", beat.replay);
    bw.sound(beat); bw.player(beat.player); bw.tick();
  };
  const clock = (ms) => { const d = new Date(ms); return two(d.getUTCHours()) + two(d.getUTCMinutes()) + ":" + two(d.getUTCSeconds()); };
  bw.tick = () => {
    const silent = performance.now() - bw.heardAt, stale = silent > STALE_AFTER_MS;
    root.classList.toggle("is-stale", stale);
    const age = $("#age"); if (age) age.textContent = stale ? "" : `picture ${Math.floor(silent / 1000)} s old`;
    if (stale) {
      $("#stale-age").textContent = `${Math.floor(silent / 1000)} s OLD`;
      const since = Math.floor(silent / 3000);
      if (bw.staleTone !== since) { bw.staleTone = since; bw.tones([[330, 0.25], [220, 0.35]]); }
      return;
    }
    const last = bw.last; if (!last) return;
    const now = last.now + silent * last.rate, lt = $("#clock"), utc = $("#utc"), count = $("#count");
    if (lt) lt.firstChild.nodeValue = clock(now + last.ahead);
    if (utc) utc.textContent = clock(now) + " UTC  " + new Date(now + last.ahead).toUTCString().slice(5, 11);
    if (count) {
      const to = Number(count.dataset.to), left = Math.max(0, (to - now) / 1000);
      const shown = left >= 5400 ? `${Math.round(left / 360) / 10} h` : `${Math.floor(left / 60)}:${two(left % 60)}`;
      count.firstChild.nodeValue = to ? shown : "";
    }
  };
  setInterval(bw.tick, 250);

  // --- sound -----------------------------------------------------------------------------------------------
  let audio = null;
  const unlock = () => { audio = audio || new AudioContext(); audio.resume(); soundState(); };
  const soundState = () => {
    const mark = $("#sound"); if (!mark) return;
    const on = audio && audio.state === "running";
    const words = on ? "sound on" : innerWidth < 1500 ? "SOUND OFF" : "SOUND OFF: press a key";
    if (mark.textContent !== words) mark.textContent = words;
    mark.classList.toggle("bad", !on);
  };
  setInterval(soundState, 1000);
  addEventListener("pointerdown", unlock); addEventListener("keydown", unlock);
  bw.tones = (each) => {
    bw.toned = (bw.toned || 0) + 1;
    if (!audio || audio.state !== "running") return;
    let at = audio.currentTime + 0.02;
    for (const [hz, seconds] of each) {
      const tone = audio.createOscillator(), loud = audio.createGain();
      tone.type = "square"; tone.frequency.value = hz; loud.gain.value = 0.14;
      tone.connect(loud).connect(audio.destination); tone.start(at); tone.stop(at + seconds);
      at += seconds + 0.12;
    }
  };
  const ALARM = [[880, 0.18], [880, 0.18], [880, 0.18]], WARNING = [[620, 0.25], [620, 0.25]];
  let alarmAt = 0;
  bw.sound = (beat) => {
    if (beat.alarms && performance.now() - alarmAt > 8000) { alarmAt = performance.now(); bw.tones(ALARM); }
    if (!beat.alarms) alarmAt = 0;
    const fresh = beat.warnings.filter((each) => !bw.warned.has(each));
    if (fresh.length && !beat.alarms) bw.tones(WARNING);
    bw.warned = new Set(beat.warnings);
  };
  bw.test = (kind) => bw.tones(kind === "alarm" ? ALARM : WARNING);

  // --- doing things ----------------------------------------------------------------------------------------
  bw.say = (words) => {
    const line = document.createElement("div"); line.textContent = words; $("#say").append(line);
    setTimeout(() => line.remove(), 9000);
  };
  const who = () => ($("#who") ? $("#who").value.trim().toUpperCase() : "");
  bw.show = (view) => {
    bw.view = view;
    document.querySelectorAll(".view").forEach((each) => each.classList.toggle("shown", each.dataset.view === view));
    document.querySelectorAll("nav button[data-view]").forEach((each) =>
      each.dataset.view === view ? each.setAttribute("aria-current", "page") : each.removeAttribute("aria-current"));
    const live = view === "stay" && $("form[data-live]");  // drawn at once, not only when typed in
    if (live) live.dispatchEvent(new Event("input", { bubbles: true }));
    bw.measure(true);
  };
  bw.palette = (name) => {
    const all = ["day", "dusk", "night"], was = root.dataset.palette;
    root.dataset.palette = all.includes(name) ? name : all[(all.indexOf(was) + 1) % 3];
    localStorage.setItem("palette", root.dataset.palette);
    const key = $("#palette"); if (key) key.textContent = `Light: ${root.dataset.palette}`;
  };
  const opened = new Set();  // alerts told in full: each picture draws the list anew
  const unfold = () => document.querySelectorAll("article[data-about]").forEach((each) => {
    const open = opened.has(each.dataset.about), key = each.querySelector(".more");
    each.classList.toggle("open", open);
    if (open !== (key.textContent === "Less")) key.textContent = open ? "Less" : "More";
    key.setAttribute("aria-expanded", open); key.setAttribute("aria-label", `${key.textContent} about ${key.dataset.name}`);
  });
  const acts = {
    view: (data) => bw.show(data.view),
    palette: () => bw.palette(),
    sound: (data) => bw.test(data.tone),
    more: (data) => { opened.has(data.alert) ? opened.delete(data.alert) : opened.add(data.alert); unfold(); },
    close: (data, from) => from.closest("dialog").close(),
    acknowledge: (data) => {
      const asked = $("#acknowledge"), alarm = data.priority === "alarm";
      asked.dataset.alert = data.alert; $("#ack-what").textContent = data.what;
      $("#ack-who").value = who(); $("#ack-clear").checked = false;
      $("#ack-tick").style.display = alarm ? "" : "none"; $("#ack-clear").required = alarm;
      asked.showModal(); (who() ? (alarm ? $("#ack-clear") : $("#ack-ok")) : $("#ack-who")).focus();
    },
    help: () => $("#help").showModal(),
  };
  const needsWho = (data) => {
    if (who() || data.anonymous) return false;
    bw.say("Give your initials first"); $("#who").focus(); return true;
  };
  addEventListener("click", (event) => {
    const from = event.target.closest("[data-do]"); if (!from || from.disabled) return;
    const data = { ...from.dataset };
    if (acts[data.do]) { acts[data.do](data, from); return; }
    if (needsWho(data)) return;
    emitEvent("bw_do", { ...data, who: who() });
  });
  addEventListener("submit", (event) => {
    event.preventDefault();
    const form = event.target, fields = Object.fromEntries(new FormData(form)), name = form.dataset.form;
    if (name === "acknowledge") {
      const dialog = $("#acknowledge");
      $("#who").value = fields.who.toUpperCase(); localStorage.setItem("who", $("#who").value);
      emitEvent("bw_do", { do: "entry", entry: `ack ${dialog.dataset.alert} ${fields.who}`, clear: !!fields.clear, who: fields.who });
      dialog.close(); return;
    }
    if (needsWho(form.dataset)) return;
    emitEvent("bw_form", { form: name, fields, who: who() });
    if (form.dataset.clear) form.reset();
  });
  addEventListener("change", (event) => {
    if (event.target.id === "who") localStorage.setItem("who", event.target.value.toUpperCase());
    if (event.target.id === "scrub") emitEvent("bw_player", { to: Number(event.target.value) });
    if (event.target.id === "pace") emitEvent("bw_player", { pace: Number(event.target.value) });
    if (event.target.id === "recording") emitEvent("bw_player", { recording: Number(event.target.value) });
    if (event.target.id === "jump" && event.target.value) emitEvent("bw_player", { to: Number(event.target.value) });
  });
  let typing = 0;
  addEventListener("input", (event) => {  // checked and drawn as one types, a moment after the last letter
    const live = event.target.closest("form[data-live]"); if (!live) return;
    clearTimeout(typing);
    typing = setTimeout(() => emitEvent("bw_form",
      { form: live.dataset.live, fields: Object.fromEntries(new FormData(live)), who: who() }), 300);
  });
  addEventListener("keydown", (event) => {
    if (event.target.matches("input, select, textarea") || event.ctrlKey || event.altKey || event.metaKey) return;
    if (document.querySelector("dialog[open]")) return;
    const key = $(`[data-key="${CSS.escape(event.key)}"]`);
    if (key) { event.preventDefault(); key.click(); }
  });

  // --- replay ----------------------------------------------------------------------------------------------
  bw.player = (player) => {
    if (!player || !$("#scrub")) return;
    const bar = $("#scrub");
    bar.min = 0; bar.max = player.total;
    if (document.activeElement !== bar || !bw.dragging) bar.value = player.at;
    $("#play").textContent = player.playing ? "Pause" : "Play";
    $("#developed").textContent = player.done < 1 ? `read in ${Math.floor(100 * player.done)} %` : "";
    const shelf = $("#recording");
    if (shelf.options.length !== player.recordings.length) {
      player.recordings.forEach((words, n) => shelf.add(new Option(words, n))); shelf.value = player.chosen;
    }
    shelf.hidden = player.recordings.length < 2;
    const jump = $("#jump");
    if (jump.options.length - 1 !== player.events.length && document.activeElement !== jump) {
      const chosen = jump.value;
      jump.length = 1;
      for (const [at, words] of player.events) jump.add(new Option(words, at, false, String(at) === chosen));
    }
  };
  addEventListener("pointerdown", (event) => { if (event.target.id === "scrub") bw.dragging = true; });
  addEventListener("pointerup", () => { bw.dragging = false; });

  // --- room for the drawings -------------------------------------------------------------------------------
  let measured = "";
  bw.measure = (always) => {
    const sizes = { view: bw.view };
    document.querySelectorAll("[data-draw]").forEach((each) => {
      sizes[each.dataset.draw] = [Math.floor(each.clientWidth), Math.floor(each.clientHeight)];
    });
    const now = JSON.stringify(sizes);
    if (now !== measured || always) { measured = now; if (window.emitEvent) emitEvent("bw_size", sizes); }
  };
  let wait = 0;
  addEventListener("resize", () => { clearTimeout(wait); wait = setTimeout(bw.measure, 150); });
  bw.begin = () => {
    bw.palette(localStorage.getItem("palette") || "day");
    $("#who").value = localStorage.getItem("who") || "";
    bw.show("watch"); setTimeout(bw.measure, 300);
    new MutationObserver((all) => all.some((each) => each.addedNodes.length) && unfold()).observe($(".side"), { childList: true, subtree: true });
    new ResizeObserver(() => { clearTimeout(wait); wait = setTimeout(bw.measure, 150); }).observe($(".sentence"));
  };
})();
"""
)
