"""The style sheet of the page: large, plain, without pictures; every colour is a variable of the palette."""

# ruff: noqa: E501  (a style sheet, a script: their lines are theirs)

from __future__ import annotations

from typing import Final

from monitor.outlet.console.palette import variables

_SHEET: Final = """
* { box-sizing: border-box; }
html, body { margin: 0; background: var(--paper); color: var(--ink); }
body { font: 16px/1.35 "DejaVu Sans", "Segoe UI", Arial, sans-serif; -webkit-font-smoothing: antialiased; }
.nicegui-content, .q-page, .q-layout, .q-page-container { padding: 0 !important; gap: 0 !important; display: block;
  min-height: 0 !important; width: 100%; }
#popup, .q-loading-bar { display: none !important; }
h2 { font-size: 18px; line-height: 1.3; font-weight: 700; margin: 0 0 6px; letter-spacing: 0; }
h3 { font-size: 16px; line-height: 1.3; font-weight: 700; margin: 12px 0 4px; }
p { margin: 0 0 6px; }
.dim { color: var(--dim); } .small { font-size: 14px; } .strong { font-weight: 700; }
.bw { display: flex; flex-direction: column; height: 100vh; min-width: 0; }
.bw > * { min-width: 0; }

.sentence { display: grid; grid-template-columns: minmax(0, 1fr) auto; gap: 4px 24px; padding: 10px 18px 10px;
  background: var(--panel); border-bottom: 3px solid var(--edge); }
.order { font-size: clamp(54px, 3.7vw, 84px); grid-column: 1 / -1; line-height: 1.06; font-weight: 800; letter-spacing: -0.01em; margin: 0; }
.order .mark { letter-spacing: -0.12em; margin-right: 0.25em; font-size: 0.8em; } .reason .mark { display: none; letter-spacing: -0.12em; }
.reason { font-size: clamp(19px, 1.4vw, 28px); line-height: 1.25; margin: 6px 0 0; grid-column: 1; grid-row: 2; }
.sentence.level3 { background: var(--alarm); color: var(--alarm-ink); }
.sentence.level2 { background: var(--warning); color: var(--warning-ink); }
.sentence.level1 { background: var(--caution); color: var(--caution-ink); }
.sentence.unknown { background: repeating-linear-gradient(-45deg, var(--unknown) 0 26px, var(--panel) 26px 30px);
  color: var(--unknown-ink); }
.times { grid-row: 2; grid-column: 2; text-align: right; display: flex; gap: 4px 26px; align-items: start; }
.clock { font-size: clamp(40px, 3.2vw, 64px); line-height: 1; font-weight: 700; font-variant-numeric: tabular-nums; }
.clock small { font-size: 0.42em; font-weight: 600; }
.utc { font-size: 16px; font-variant-numeric: tabular-nums; }
.count { font-size: clamp(40px, 3.2vw, 64px); line-height: 1; order: -1; font-weight: 800; font-variant-numeric: tabular-nums; }
.count small { font-size: 17px; font-weight: 600; display: block; line-height: 1.1; }

.flags { display: flex; flex-wrap: wrap; gap: 4px 8px; padding: 4px 18px; background: var(--panel);
  border-bottom: 1px solid var(--edge); font-size: 15px; align-items: center; }
.flag { padding: 1px 8px; border: 1.5px solid currentColor; border-radius: 3px; white-space: nowrap; }
.flag.bad { background: var(--warning); color: var(--warning-ink); font-weight: 700; }
.flag.replay { background: var(--ink); color: var(--paper); font-weight: 800; letter-spacing: 0.14em; }
.flag.stripe { border-style: dashed; }

.stage { flex: 1; overflow: auto; min-height: 0; padding: 8px 12px; }
.view { display: none; } .view.shown { display: block; }
.view.watch.shown { display: grid; gap: 8px; height: 100%; grid-template-columns: minmax(0, 1fr) minmax(356px, 24%);
  grid-template-rows: minmax(212px, 52fr) minmax(80px, 14fr) minmax(154px, 34fr);
  grid-template-areas: "plan side" "approach side" "ribbon side"; }
.draw { overflow: hidden; background: var(--panel); border: 1px solid var(--edge); border-radius: 4px; min-height: 0;
  min-width: 0; }
.draw > div, .draw svg { display: block; }
.decks.shown { display: grid; gap: 8px; height: 100%; grid-template-columns: minmax(0, 1fr) minmax(300px, 26%);
  grid-template-rows: minmax(300px, 1fr); }
.decks .card { overflow: auto; min-height: 0; }
.a-plan { grid-area: plan; } .a-approach { grid-area: approach; } .a-ribbon { grid-area: ribbon; }
.side { grid-area: side; display: flex; flex-direction: column; gap: 8px; min-height: 0; }
.side .card { overflow: auto; min-height: 0; } .side .card:first-child { flex: 0 1 auto; } .side .card:last-child { flex: 1 0 32%; }
.count-alerts { position: sticky; top: -8px; z-index: 1; background: var(--panel); margin: 0 0 4px; padding: 2px 0; }
.card { background: var(--panel); border: 1px solid var(--edge); border-radius: 4px; padding: 8px 10px; }
.inputs.shown { display: grid; gap: 10px; grid-template-columns: minmax(330px, 27%) minmax(0, 1fr);
  align-items: start; }
.stay { display: grid; gap: 10px; grid-template-columns: minmax(0, 1fr) minmax(0, 1fr); align-items: start; }
.stays { position: sticky; top: 0; } .stay svg { max-width: 100%; height: auto; }
.stay td { padding: 1px 6px 1px 0; border: 0; } .stay td input, .stay td select { min-height: 34px; }
.cards { display: grid; gap: 10px; grid-template-columns: repeat(auto-fit, minmax(min(420px, 100%), 1fr));
  align-items: start; }
.wide { grid-column: 1 / -1; }
.ahead .cards { grid-template-columns: repeat(auto-fit, minmax(min(480px, 100%), 1fr)); }
.card ul { margin: 0 0 6px; padding-left: 20px; } .card:empty { display: none; }
.inputs td:first-child { white-space: nowrap; } .inputs p button { min-height: 30px; padding: 1px 9px; }

.alert { border: 1px solid var(--edge); border-left: 8px solid var(--edge); border-radius: 4px; padding: 6px 8px;
  background: var(--panel); margin-bottom: 6px; }
.alert.level1 { border-left-color: var(--caution); } .alert.level2 { border-left-color: var(--warning); }
.alert.level3 { border-left-color: var(--alarm); }
.alert .head { display: flex; gap: 4px 8px; align-items: baseline; font-weight: 700; }
.alert .name { min-width: 0; overflow-wrap: anywhere; }
.alert .word { padding: 0 6px; border-radius: 3px; white-space: nowrap; } .alert .word .mark { font-size: 0.6em; letter-spacing: -0.1em; margin-right: 0.5em; }
.alert .since { font-weight: 400; color: var(--dim); } .alert .rest { display: none; } .alert.open .rest { display: block; }
.alert .do { display: -webkit-box; -webkit-box-orient: vertical; -webkit-line-clamp: 1; overflow: hidden; }
.alert.waits .do, .alert.level3 .do { -webkit-line-clamp: 2; }
.count-alerts:nth-last-child(-n+4) ~ .alert .do { -webkit-line-clamp: 3; } /* of three or fewer: room for all of it */
.alert.open .do { -webkit-line-clamp: none; display: block; }
.alert:not(.waits) .since, .alert.waits .state { display: none; }
.alert .state { flex: 1 1 60%; align-self: center; order: -1; } .alert.over .state { flex-basis: 100%; } .alert .keys .more { margin-left: auto; }
.alert.level1 .word { background: var(--caution); color: var(--caution-ink); }
.alert.level2 .word { background: var(--warning); color: var(--warning-ink); }
.alert.level3 .word { background: var(--alarm); color: var(--alarm-ink); }
.alert.waits .word { animation: beckon 1.2s steps(2, jump-none) infinite; }
@keyframes beckon { from { outline: 3px solid transparent; } to { outline: 3px solid var(--ink); } }
.alert.over { opacity: 1; border-left-style: dotted; }
.alert .do { font-weight: 700; margin-top: 3px; }
.alert .rest > div { margin-top: 3px; } .alert .keys { margin-top: 4px; } .alert .keys button { min-height: 34px; padding: 3px 9px; }
.keys { display: flex; flex-wrap: wrap; gap: 6px; margin-top: 6px; }

button, .key { font: inherit; font-weight: 700; min-height: 40px; padding: 6px 14px; border-radius: 4px; cursor: pointer;
  border: 1.5px solid var(--key); background: var(--key); color: var(--key-ink); text-transform: none; }
button.quiet { background: transparent; color: var(--ink); border-color: var(--edge); }
button[disabled] { cursor: not-allowed; background: transparent; color: var(--dim); border: 1.5px dashed var(--edge); }
button[aria-pressed="true"], button[aria-current="page"] { outline: 3px solid var(--ink); outline-offset: -5px; }
:focus-visible { outline: 3px solid var(--ink); outline-offset: 2px; box-shadow: 0 0 0 5px var(--paper); }
input, select, textarea { font: inherit; min-height: 40px; padding: 6px 8px; border: 1.5px solid var(--dim);
  border-radius: 4px; background: var(--paper); color: var(--ink); max-width: 100%; }
input[type="checkbox"] { width: 26px; min-height: 26px; accent-color: var(--key); vertical-align: middle; }
input[type="range"] { padding: 0; accent-color: var(--key); }
label { display: inline-flex; flex-direction: column; gap: 2px; font-size: 14px; color: var(--ink); }
form .row { display: flex; flex-wrap: wrap; gap: 8px; align-items: end; margin-bottom: 6px; }
.short { width: 9em; } label.tick { flex-direction: row; align-items: center; gap: 10px; font-size: 18px; } .mid { width: 14em; } .long { width: 100%; }
fieldset { border: 1px solid var(--edge); border-radius: 4px; margin: 0 0 8px; padding: 6px 8px; }
table { border-collapse: collapse; width: 100%; font-size: 15px; }
th { text-align: left; font-weight: 700; border-bottom: 2px solid var(--edge); padding: 3px 8px 3px 0; }
th[scope="row"] { border-bottom: 0; } td { border-bottom: 1px solid var(--edge); padding: 4px 8px 4px 0; vertical-align: top; }
td .keys { margin: 0; flex-wrap: nowrap; gap: 4px; } td button { min-height: 34px; padding: 3px 7px; font-size: 14px; white-space: nowrap; }
[data-view="log"] td:nth-child(3) { white-space: nowrap; } [data-view="log"] td:nth-child(4) { width: 70%; }
td.number { font-variant-numeric: tabular-nums; white-space: nowrap; }
code { font: 13px/1.3 "DejaVu Sans Mono", Consolas, monospace; overflow-wrap: anywhere; }
.scroll { overflow-x: auto; }

.foot { display: flex; flex-wrap: wrap; gap: 6px; align-items: center; padding: 6px 12px; background: var(--panel);
  border-top: 1px solid var(--edge); }
.foot nav { display: flex; flex-wrap: wrap; gap: 6px; } .foot button { min-height: 38px; padding: 4px 12px; }
.foot .gap { flex: 1; } .foot label { flex-direction: row; align-items: center; gap: 6px; }
.foot input { width: 4.6em; text-transform: uppercase; }
.player { display: none; gap: 8px; align-items: center; padding: 6px 12px; background: var(--ink); color: var(--paper);
  flex-wrap: wrap; }
.is-replay .player { display: flex; } .player input[type="range"] { flex: 1; min-width: 200px; }
.player button, .player select { min-height: 36px; padding: 2px 12px; } .player .strong { letter-spacing: 0.14em; }
.player button { background: var(--paper); color: var(--ink); border-color: var(--paper); }
:root[data-palette="dusk"], :root[data-palette="night"] { color-scheme: dark; } :root:not([data-palette="day"]) input[type="range"] { accent-color: var(--dim); }
:root:not([data-palette="day"]) .player { background: var(--panel); color: var(--ink); border: solid var(--ink); border-width: 2px 0; } :root:not([data-palette="day"]) .player button { border-color: var(--ink); }
.is-replay .bw { outline: 6px dashed var(--ink); outline-offset: -6px; }

#stale { display: none; position: fixed; inset: 0; z-index: 50; pointer-events: none;
  background: repeating-linear-gradient(-45deg, #000 0 28px, transparent 28px 70px); }
#stale div { background: #000; color: #fff; border: 6px solid #fff; margin: 12px; padding: 12px 20px; }
#stale strong { display: block; font-size: clamp(54px, 4.6vw, 92px); line-height: 1.05; font-weight: 800; }
#stale span { font-size: 24px; }
.is-stale #stale { display: block; } .is-stale .bw { filter: grayscale(1); }
#say { position: fixed; right: 16px; bottom: 64px; max-width: 46ch; z-index: 40; display: grid; gap: 6px; }
#say div { background: var(--ink); color: var(--paper); padding: 10px 14px; border-radius: 4px; font-weight: 600; }
dialog { border: 3px solid var(--ink); border-radius: 6px; background: var(--panel); color: var(--ink); padding: 18px;
  max-width: 560px; } dialog::backdrop { background: rgb(0 0 0 / 55%); }

svg text { fill: var(--ink); font-size: 15px; }
svg .small { font-size: 13px; } svg .dim { fill: var(--dim); } svg .strong { font-weight: 700; }
svg .label { font-size: 16px; } svg .value { font-size: 17px; font-weight: 700; } svg .mark { font-size: 9px; letter-spacing: -1px; }
svg .halo { paint-order: stroke; stroke: var(--panel); stroke-width: 4px; stroke-linejoin: round; }
.water { fill: var(--water); } .land { fill: var(--land); } .quay { stroke: var(--ink); stroke-width: 3; }
.grid { stroke: var(--edge); stroke-width: 0.6; stroke-dasharray: 2 5; } .axis { stroke: var(--dim); stroke-width: 1.4; }
.fender { fill: var(--dim); } .bollard { fill: var(--ink); } .fairlead { fill: var(--rope); }
.doubt { fill: var(--unknown); stroke: var(--unknown-ink); stroke-dasharray: 3 2; }
.hull { fill: var(--hull); } .worst { fill: var(--dv3); stroke: var(--ink); stroke-width: 0.8; } .deck { stroke: var(--hull-ink); stroke-width: 1; opacity: .75; } svg .hull-name { fill: var(--hull-ink); font-size: 18px; font-weight: 700; }
.rope { stroke: var(--rope); stroke-linecap: round; } .rope.unknown { stroke-dasharray: 2 6; }
.rope.parted { stroke-dasharray: 14 12; } .leader { stroke: var(--dim); stroke-width: 0.8; fill: none; }
.tag { fill: var(--panel); stroke: var(--edge); } .tag.level1 { stroke: var(--ink); stroke-dasharray: 2 3; }
.tag.level2 { stroke: var(--ink); stroke-width: 2; } .tag.level3 { stroke: var(--alarm); stroke-width: 3.5; }
svg .tag-number { font-weight: 700; letter-spacing: -0.03em; }
svg .tag-word { font-size: 13px; font-weight: 800; } svg .tag-below { font-size: 12px; }
.gauge { fill: var(--paper); stroke: var(--dim); stroke-width: 0.8; } .gauge-band { fill: var(--band); }
.gauge-now { fill: var(--ink); } .gauge-mid { stroke: var(--ink); stroke-width: 2; }
.gauge-coming { fill: none; stroke: var(--ink); stroke-width: 1.6; stroke-dasharray: 3 2; }
.gauge-notch { stroke: var(--dim); stroke-width: 1.4; } .gauge-measured { fill: var(--panel); stroke: var(--ink); stroke-width: 1.6; } .gauge-wall { stroke: var(--ink); stroke-width: 2.4; }
.other { fill: var(--ink); stroke: var(--ink); stroke-width: 1.4; } .other.hollow { fill: none; stroke-dasharray: 4 3; }
svg .other-name { font-size: 13px; font-weight: 700; } .lane { fill: var(--band); opacity: 0.3; } .lane1 { fill: none; }
.track { stroke: var(--ink); stroke-width: 1.6; stroke-dasharray: 10 7; fill: none; }
.track-head, .thin { stroke: var(--ink); fill: none; stroke-width: 2; } .whisker { stroke: var(--dim); stroke-width: 5; opacity: .6; }
.inset { fill: var(--panel); stroke: var(--edge); } .wind-arrow { stroke: var(--ink); stroke-width: 3; fill: none; }
.stream-arrow { stroke: var(--ink); stroke-width: 2; fill: none; }
.lane-back { fill: var(--paper); } .seam { stroke: var(--ink); stroke-width: 1.4; stroke-dasharray: 6 4; }
.now-line { stroke: var(--ink); stroke-width: 2.4; } .level-line { stroke: var(--dim); stroke-width: 1; stroke-dasharray: 3 5; }
.level-line3 { stroke-dasharray: 9 3; stroke: var(--ink); } .band-past { fill: var(--band); opacity: .55; }
.band-coming { fill: var(--band); opacity: .3; } .middle-past { fill: none; stroke: var(--ink); stroke-width: 2; }
.middle-coming { fill: none; stroke: var(--ink); stroke-width: 1.6; stroke-dasharray: 5 4; } .gust { fill: var(--ink); }
.pass-band { fill: none; stroke: var(--ink); stroke-width: 1.6; } .pass-mid { stroke: var(--ink); stroke-width: 3; }
.pass-mark { fill: var(--ink); } .tide { fill: none; stroke: var(--ink); stroke-width: 1.6; }
.tide-tables { fill: none; stroke: var(--dim); stroke-width: 1.4; stroke-dasharray: 2 4; } .tide-measured { fill: none; stroke: var(--ink); stroke-width: 3.4; }
.deck-floor { fill: var(--dv1); } .dv-scale { fill: none; stroke: var(--ink); stroke-width: 2; } .dv-stroke1 { stroke: var(--ink); stroke-width: 0.7; } .dv-stroke2, .dv-stroke3, .dv-stroke4 { stroke: var(--ink); stroke-width: 1.1; }
.dv-area2 { fill: var(--dv2); } .dv-area3 { fill: var(--dv3); } .dv-edge { fill: none; stroke: var(--ink); stroke-width: 2; }
.dv-house { fill: var(--paper); stroke: var(--ink); stroke-width: 1.4; } .dv-rope { fill: none; stroke: var(--ink); stroke-width: 1.6; } .dv-heavy { stroke-width: 4; } .dv-parted { stroke-dasharray: 14 12; }
.dv-fitting { fill: var(--panel); stroke: var(--ink); stroke-width: 1.6; } .dv-station { fill: var(--ink); stroke: var(--panel); stroke-width: 1.5; }
.dv-numeral { fill: var(--panel); stroke: var(--ink); stroke-width: 2; }
.span.level1 { fill: var(--caution); stroke: var(--ink); stroke-width: .6; } .span.level2 { fill: var(--warning); }
.span.level3 { fill: var(--alarm); } svg .on-level3 { fill: var(--alarm-ink); } svg .on-level2 { fill: var(--warning-ink); }
svg .on-level1 { fill: var(--caution-ink); }

@media (max-width: 1700px) { .foot button { padding: 4px 8px; font-size: 15px; } .foot nav { gap: 4px; } .foot .flag { font-size: 14px; } .foot .small, .foot label { font-size: 14px; } .foot input { width: 4em; } }
@media (max-width: 1500px) {
  .order .mark { display: none; } .reason .mark { display: inline; } .sentence { padding: 6px 14px; } .clock, .count { font-size: 40px; }
  .foot { padding: 4px 8px; gap: 4px; } .foot nav { gap: 4px; } .foot button { padding: 4px 6px; font-size: 14px; } .foot input { width: 3.6em; } .foot .flag { font-size: 13px; }
  .foot .small, .foot label { font-size: 13px; } .alert .keys button { padding: 3px 7px; font-size: 14px; } .alert .keys { gap: 5px; } .alert .head { font-size: 14.5px; gap: 4px 6px; } .alert .state { font-size: 13px; }
  .inputs .short { width: 6em; } .inputs .card > form .row { gap: 6px; } .inputs .keys button { padding: 4px 9px; font-size: 15px; } .inputs td .keys button { padding: 3px 5px; font-size: 14px; }
}
@media (max-width: 1330px) { .alert .keys button { padding: 4px 7px; font-size: 14px; } .foot button { padding: 4px 5px; font-size: 13px; } .foot nav { gap: 3px; } }
@media (max-height: 820px) { .side .card:last-child { flex-basis: 24%; } .side .card { padding: 4px 8px; } .alert .do { font-size: 15px; line-height: 1.25; } }
@media (max-height: 660px), (max-width: 1100px) {
  .bw { height: auto; min-height: 100vh; } .stage { overflow: visible; }
  .sentence { position: sticky; top: 0; z-index: 10; }
  .view.watch.shown { height: auto; grid-template-rows: 300px 120px 220px; }
}
@media (max-width: 1000px) {
  .view.watch.shown { grid-template-columns: minmax(0, 1fr); grid-template-rows: auto 300px 120px 240px;
    grid-template-areas: "side" "plan" "approach" "ribbon"; }
  .sentence, .inputs.shown { grid-template-columns: minmax(0, 1fr); } .times { grid-row: 3; grid-column: 1; }
}
@media print {
  @page { margin: 12mm; }
  body { font-size: 10pt; line-height: 1.25; } table { font-size: 9.5pt; } td { padding: 2px 8px 2px 0; } h2 { font-size: 13pt; } h3 { font-size: 11pt; margin: 8px 0 2px; break-after: avoid; }
  .bw, .stage, .view.watch.shown, .decks.shown { display: block; height: auto; overflow: visible; padding: 0; }
  .foot, .player, #say, button { display: none !important; }
  .card, .draw { border: 0; padding: 0; overflow: visible !important; break-inside: avoid; } .hand-over .card { break-inside: auto; }
  li, tr { break-inside: avoid; } svg { max-width: 100%; height: auto; } .card ul { margin: 0 0 4px; }
  .sentence, .sentence[class] { display: block; background: none; color: #000; border: 2px solid #000; padding: 6px 10px; break-after: avoid; }
  .order { font-size: 20pt; } .reason { font-size: 11pt; } .clock, .count { display: none; } .utc { font-size: 11pt; text-align: left; } .times { display: block; }
  .flags { padding: 6px 0; border: 0; } .flag, .flag[class] { background: none; color: #000; font-size: 9pt; }
}
@media (prefers-reduced-motion: reduce) { .alert.waits .word { animation: none; outline: 3px solid var(--ink); } }
"""


def sheet() -> str:
    """All of it."""
    return variables() + _SHEET
