"""How the page and the printed papers look: one column on a phone, tables that scroll, sheets that break sensibly."""

from __future__ import annotations

PAGE = """
:root { color-scheme: light; }
* { box-sizing: border-box; }
body {
  font: 16px/1.45 system-ui, sans-serif; color: #1a1a1a; background: #fff;
  margin: 0 auto; max-width: 64rem; padding: 1rem;
}
h1 { font-size: 1.6rem; line-height: 1.2; margin: .2rem 0 .6rem; }
h2 { font-size: 1.25rem; margin: 2rem 0 .5rem; border-bottom: 2px solid #1a1a1a; }
h3 { font-size: 1.05rem; margin: 1.2rem 0 .3rem; }
p { margin: .5rem 0; }
.notice { border: 3px solid #d55e00; padding: .5rem .8rem; font-weight: 600; }
.care { border-left: 6px solid #d55e00; padding: .1rem 0 .1rem 1.6rem; margin: .8rem 0; }
.meta, .note, figcaption { color: #444; font-size: .85rem; }
.meta, .note, td, li { overflow-wrap: anywhere; }
.lead { font-size: 1.1rem; }
nav ul { list-style: none; padding: 0; display: flex; flex-wrap: wrap; gap: .3rem 1rem; font-size: .9rem; }
nav a { color: #00548c; }
.wide { overflow-x: auto; position: relative; }
.wide:focus-visible { outline: 2px solid #0072b2; }
table { border-collapse: collapse; font-size: .85rem; margin: .6rem 0; }
caption { text-align: left; font-weight: 600; padding: .3rem 0; }
th, td { border-bottom: 1px solid #bbb; padding: .2rem .5rem; text-align: left; vertical-align: top; }
th { background: #f0f0f0; }
td.n, th.n { text-align: right; } td.n, td.s { white-space: nowrap; overflow-wrap: normal; }
td.w { min-width: 16rem; }
figure { margin: .8rem 0; } svg { display: block; width: 100%; height: auto; }
figure.broad svg { min-width: 40rem; } figure.broad { overflow-x: auto; }
.pair { display: grid; grid-template-columns: repeat(auto-fit, minmax(min(20rem, 100%), 1fr)); gap: 0 1.5rem; }
summary { cursor: pointer; padding: .3rem 0; font-weight: 600; }
.method { border-left: 3px solid #bbb; padding-left: .8rem; } .method pre { white-space: pre-wrap; font-size: .85rem; }
.method { overflow-wrap: anywhere; } .method pre code { display: block; }
ul { padding-left: 1.3rem; } .care li { margin: .25rem 0; }
@media screen and (max-width: 40rem) {
  table.stack, .stack tbody, .stack tr, .stack td, .stack caption { display: block; }
  .stack thead { position: absolute; clip-path: inset(50%); width: 1px; height: 1px; overflow: hidden; }
  .stack tr { border-top: 2px solid #888; padding: .3rem 0; }
  .stack td { border: 0; padding: .1rem 0; text-align: left; white-space: normal; min-width: 0; }
  .stack td::before { content: attr(data-head) ": "; color: #444; }
}
@media print {
  @page { size: A4; margin: 13mm 12mm; }
  html { font-size: 9.5pt; } body { max-width: none; padding: 0; font-size: 9.5pt; }
  nav { display: none; }
  h1 { font-size: 16pt; } h2 { font-size: 13pt; margin-top: 5mm; } h3 { font-size: 10.5pt; }
  h2, h3, caption { break-after: avoid; }
  figure, tr, .notice, li, table.short { break-inside: avoid; }
  section.leaf { break-before: page; }
  .wide, figure.broad { overflow: visible; } figure.broad svg { min-width: 0; }
  table { font-size: 7.8pt; } th, td { padding: .5mm 1.2mm; } td.w { min-width: 40mm; }
  thead { display: table-header-group; }
  .pair { grid-template-columns: 1fr 1fr; }
  figure.wheel svg { max-width: 150mm; }
}
"""

PAPER = """
* { box-sizing: border-box; }
body { font: 10pt/1.35 sans-serif; color: #000; margin: 0 auto; max-width: 186mm; padding: 4mm; }
h1 { font-size: 15pt; margin: 0 0 2mm; } h2 { font-size: 12pt; margin: 5mm 0 1mm; border-bottom: 1.5pt solid #000; }
.notice { border: 2pt solid #000; padding: 1.5mm 3mm; font-weight: bold; }
.care li { margin: 1mm 0; } ul { padding-left: 5mm; margin: 1mm 0; }
table { border-collapse: collapse; margin: 2mm 0; font-size: 8.5pt; width: 100%; }
caption { text-align: left; font-weight: bold; }
th, td { border: .6pt solid #000; padding: .8mm 1.4mm; text-align: left; vertical-align: top; }
th { background: #eee; } td.n, th.n { text-align: right; }
td.n, td.s { white-space: nowrap; }
.note { font-size: 8.5pt; } td.s { min-width: 9mm; } .wide { overflow-x: auto; }
table.blank td { height: 9mm; } table.blank td:first-child { width: 45%; }
@media print {
  @page { size: A4; margin: 12mm; }
  body { padding: 0; max-width: none; } .wide { overflow: visible; }
  h2, caption { break-after: avoid; } tr, li, .notice, table.short { break-inside: avoid; }
  thead { display: table-header-group; }
  section.leaf { break-before: page; }
}
"""

MEETING = """
:root { color-scheme: light; } * { box-sizing: border-box; }
body { font: 15px/1.4 system-ui, sans-serif; color: #111; background: #fff; margin: 0 auto; max-width: 52rem;
padding: .8rem; }
h1 { font-size: 1.4rem; margin: 0; line-height: 1.2; } h2, caption { font-size: 1.05rem; font-weight: 700; }
h2 { margin: .8rem 0 .2rem; border-bottom: 1.5px solid #111; } h3 { font-size: .95rem; margin: .4rem 0 .1rem; }
p { margin: .25rem 0; } ul { margin: .2rem 0; padding-left: 1.1rem; }
.meta, .note, figcaption { font-size: .82rem; color: #333; }
.notice { border: 2px solid #111; padding: .3rem .6rem; font-weight: 700; }
.boxes { display: grid; grid-template-columns: repeat(auto-fit, minmax(min(11rem, 100%), 1fr)); gap: .5rem;
margin: .5rem 0; }
.box { border: 1px solid #111; padding: .3rem .5rem; } .press { border-width: 3px; }
.box h2 { border: 0; margin: 0; font-size: .8rem; text-transform: uppercase; }
.lead { font-size: 1.15rem; font-weight: 700; }
.box ul { list-style: none; padding: 0; } .box, td, li { overflow-wrap: break-word; } .k { white-space: nowrap; }
svg { display: block; width: 100%; height: auto; } .phone { display: none; }
table { border-collapse: collapse; width: 100%; font-size: .85rem; margin: .3rem 0; }
caption { text-align: left; border-bottom: 1.5px solid #111; }
th, td { text-align: left; vertical-align: top; padding: .1rem .3rem; border-bottom: 1px solid #999; }
td.n, th.n { text-align: right; }
.hide { position: absolute; clip-path: inset(50%); width: 1px; height: 1px; overflow: hidden; }
.columns { columns: 20rem; column-gap: 1.2rem; } .columns li { break-inside: avoid; }
.pair { display: grid; grid-template-columns: 2fr 3fr; gap: 1rem; }
td svg { width: 7.5rem; }
.shelves { display: grid; grid-template-columns: repeat(auto-fill, minmax(9rem, 1fr)); gap: .3rem .8rem; }
figure { margin: 0; } figcaption { font-weight: 700; } .sign td { height: 2.2rem; } .warn { font-weight: 700; }
@media screen and (max-width: 40rem) {
  .broad { display: none; } .phone { display: block; } .pair { display: block; }
  .stack, .stack tbody, .stack tr, .stack td, .stack caption { display: block; }
  .stack thead { position: absolute; clip-path: inset(50%); width: 1px; height: 1px; overflow: hidden; }
  .stack tr { border-top: 2px solid #555; padding: .2rem 0; } .stack td { border: 0; text-align: left; }
  .stack td::before { content: attr(data-head) ": "; color: #333; }
}
@media print {
  @page { size: A4; margin: 9mm 10mm; }
  body { font-size: 7.7pt; line-height: 1.22; max-width: none; padding: 0 1px; } h1 { font-size: 14pt; }
  h2, caption { font-size: 9pt; } h2 { margin: 1.6mm 0 .4mm; } h3 { font-size: 7.7pt; margin: .8mm 0 0; }
  .boxes { grid-template-columns: repeat(4, minmax(0, 1fr)); gap: 1.5mm; margin: 1.2mm 0; }
  .box { padding: .8mm 1.4mm; }
  .lead { font-size: 9.5pt; } .box h2 { font-size: 7pt; } p { margin: .5mm 0; }
  ul { margin: .3mm 0; padding-left: 3mm; }
  table { font-size: 7.4pt; margin: .6mm 0; } th, td { padding: .25mm 1mm; } tr, figure, .box { break-inside: avoid; }
  .columns { columns: 3; column-gap: 4mm; font-size: 6.9pt; line-height: 1.15; } .pair { break-inside: avoid; }
  .meta, .note, figcaption { font-size: 6.8pt; }
  .shelves { grid-template-columns: repeat(4, 1fr); gap: 1mm 3mm; }
  .sign td { height: 8mm; } h2 { break-after: avoid; } .pair { grid-template-columns: 72mm 1fr; gap: 3mm; }
  td svg { width: 28mm; }
  .unseen { font-size: 6.8pt; }
}
"""
