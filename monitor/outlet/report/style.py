"""How the report looks, on the screen and on paper: ink on white, one blue, red for alarms and lateness alone."""

from typing import Final

CSS: Final = """
:root { --ink: #1d2a33; --faint: #5d6b75; --rule: #d4dbe0; --blue: #1f5f8b; --pale: #edf2f6; --red: #a3121c; }
* { box-sizing: border-box; }
html { font: 15px/1.45 system-ui, "Segoe UI", "Helvetica Neue", Arial, sans-serif; color: var(--ink);
  background: #fff; }
body { max-width: 1080px; margin: 0 auto; padding: 26px 30px 50px; }
header { border-bottom: 3px solid var(--ink); padding-bottom: 10px; display: flex;
  justify-content: space-between; align-items: flex-end; gap: 20px; }
h1 { font-size: 25px; line-height: 1.15; margin: 0; }
h2 { font-size: 18px; margin: 34px 0 8px; border-bottom: 1px solid var(--rule); padding-bottom: 3px;
  break-after: avoid; }
h3 { font-size: 15px; margin: 18px 0 4px; break-after: avoid; }
p { margin: 6px 0; }
.when { color: var(--faint); margin: 3px 0 0; }
.badge { background: var(--ink); color: #fff; font-weight: 700; padding: 3px 9px; letter-spacing: .04em;
  white-space: nowrap; }
.lead { font-size: 17px; line-height: 1.5; margin: 14px 0 16px; }
.cut { border: 2px solid var(--ink); border-left-width: 10px; padding: 8px 12px; margin: 12px 0;
  font-weight: 600; }
.glance { display: grid; grid-template-columns: repeat(3, 1fr); gap: 10px; margin: 0 0 14px; break-inside: avoid; }
.tile { border: 1px solid var(--rule); border-top: 4px solid var(--blue); padding: 8px 12px 9px; }
.tile.high { border-top: 4px solid var(--red); }
.tile .of { color: var(--faint); font-size: 13px; }
.tile .big { font-size: 25px; font-weight: 700; line-height: 1.2; font-variant-numeric: tabular-nums; }
.tile.high .big { color: var(--red); }
.tile .so { font-size: 13.5px; }
img { width: 100%; height: auto; display: block; margin: 8px 0; }
figure { margin: 10px 0; break-inside: avoid; }
figcaption { color: var(--faint); font-size: 13px; }
table { border-collapse: collapse; width: 100%; margin: 6px 0 10px; font-size: 13.5px;
  font-variant-numeric: tabular-nums; }
th { text-align: left; font-weight: 600; border-bottom: 1.5px solid var(--ink); padding: 3px 8px 3px 0;
  vertical-align: bottom; }
th.wide { width: 46%; }
td { border-bottom: 1px solid var(--rule); padding: 4px 8px 4px 0; vertical-align: top; }
tr { break-inside: avoid; }
thead { display: table-header-group; }
tr.came td { font-weight: 700; background: var(--pale); }
td small { color: var(--faint); font-weight: 400; display: block; line-height: 1.25; }
.alarm { color: var(--red); font-weight: 700; }
.warning { font-weight: 700; }
.alarm, .warning, .caution { white-space: nowrap; }
.late { color: var(--red); font-weight: 600; }
.card { break-inside: avoid; margin: 10px 0 16px; }
.card p { margin: 3px 0; }
.card td:first-child { white-space: nowrap; }
.card td:first-child small { white-space: normal; min-width: 7em; }
ul { margin: 6px 0; padding-left: 20px; }
li { margin: 3px 0; }
footer { margin-top: 30px; border-top: 1px solid var(--rule); padding-top: 8px; color: var(--faint);
  font-size: 12.5px; overflow-wrap: anywhere; }
nav { font-size: 13.5px; margin: 8px 0 0; }
nav a { color: var(--blue); margin-right: 14px; }
@media (max-width: 700px) { .glance { grid-template-columns: 1fr; } body { padding: 14px; } }
@page { size: A4; margin: 13mm 12mm 15mm; }
@media print {
  html { font-size: 8.8pt; line-height: 1.32; }
  body { max-width: none; padding: 0; }
  nav { display: none; }
  h1 { font-size: 15pt; } h2 { font-size: 12pt; margin-top: 14pt; } h3 { font-size: 9.4pt; }
  .lead { font-size: 9.8pt; line-height: 1.4; margin: 7pt 0 8pt; }
  .glance { gap: 6pt; margin: 0 0 6pt; }
  .tile { padding: 4pt 7pt 5pt; } .tile .big { font-size: 13.5pt; } .tile .so, .tile .of { font-size: 8pt; }
  figcaption { font-size: 7.8pt; } figure { margin: 4pt 0; }
  footer { font-size: 7.5pt; margin-top: 14pt; }
  table { font-size: 8pt; } td small { font-size: 6.8pt; }
  .sheet { break-before: page; }
  * { -webkit-print-color-adjust: exact; print-color-adjust: exact; }
}
"""
