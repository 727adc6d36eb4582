"""How pages look: cream, sea and ink; on a wide screen, on a phone, on paper."""

STYLE = """\
:root {
  --paper: #fbf9f3; --card: #ffffff; --line: #e3dfd2; --ink: #1a2340; --quiet: #565d73;
  --sea: #2f7d76; --sea-light: #e4f0ec; --brick: #a9441c; --brick-light: #fbeee6;
  color-scheme: light;
}
* { box-sizing: border-box; }
html { -webkit-text-size-adjust: 100%; }
body {
  margin: 0 auto; padding: 2.5rem 1.5rem 4rem; max-width: 66rem; background: var(--paper); color: var(--ink);
  font: 1rem/1.55 system-ui, -apple-system, "Segoe UI", Roboto, "Noto Sans", "Helvetica Neue", Arial, sans-serif;
  overflow-wrap: break-word;
}
p, ul, dl, figure, .wide { margin: 0 0 1rem; }
p, li { max-width: 46rem; }
a { color: var(--sea); }
h1 { margin: 0 0 .4rem; font-size: 2.25rem; line-height: 1.15; letter-spacing: -.015em; font-weight: 650; }
h2 { margin: 0 0 1rem; font-size: 1.5rem; line-height: 1.25; letter-spacing: -.01em; font-weight: 650; }
h3 { margin: 1.75rem 0 .6rem; font-size: 1.06rem; line-height: 1.35; font-weight: 650; }
.kind { margin: 0 0 .35rem; color: var(--sea); font-weight: 600; letter-spacing: .06em; text-transform: uppercase;
  font-size: .8rem; }
.about p { margin: 0; color: var(--quiet); }
header { margin-bottom: 2.5rem; }
nav { margin-top: 1.5rem; }
nav ul { display: flex; flex-wrap: wrap; gap: .4rem 1.4rem; margin: 0; padding: 0; list-style: none; }
nav a { text-decoration: none; font-weight: 550; }
nav a:hover { text-decoration: underline; }
section { margin: 0 0 2.5rem; padding-top: 2rem; border-top: 1px solid var(--line); }
ul { padding-left: 1.2rem; }
li { margin-bottom: .35rem; }
.lead { font-size: 1.12rem; line-height: 1.5; }
.quiet, figcaption, caption { color: var(--quiet); font-size: .9rem; }
.quiet li { margin-bottom: .2rem; }
dl.big { display: grid; grid-template-columns: repeat(auto-fit, minmax(11rem, 1fr)); gap: .75rem; margin: 1.5rem 0 0; }
dl.big div { padding: .8rem 1rem; background: var(--card); border: 1px solid var(--line); border-radius: .6rem; }
dl.big dt { color: var(--quiet); font-size: .85rem; }
dl.big dd { margin: .1rem 0 0; font-size: 1.15rem; font-weight: 600; line-height: 1.3; }
dl.facts div { display: grid; grid-template-columns: minmax(8rem, 14rem) 1fr; gap: 0 1rem; padding: .35rem 0;
  border-bottom: 1px solid var(--line); }
dl.facts dt { color: var(--quiet); }
dl.facts dd { margin: 0; min-width: 0; }
.wide { overflow-x: auto; }
table { border-collapse: collapse; width: 100%; font-size: .92rem; font-variant-numeric: tabular-nums; }
caption { text-align: left; padding-bottom: .5rem; }
th, td { padding: .45rem .9rem .45rem 0; text-align: left; vertical-align: top; border-bottom: 1px solid var(--line); }
thead th { color: var(--quiet); font-weight: 550; font-size: .85rem; line-height: 1.3; vertical-align: bottom; }
tbody th { font-weight: 600; }
.code { font-family: ui-monospace, SFMono-Regular, Menlo, Consolas, monospace; font-size: .82rem; }
.code td:last-child { overflow-wrap: anywhere; }
.code th, .code td { padding-right: .7rem; }
figure { break-inside: avoid; }
figure img, figure svg, figure canvas { display: block; width: 100%; height: auto; border-radius: .6rem; }
figcaption { margin-top: .5rem; max-width: 46rem; }
.pictures { display: grid; gap: 1.25rem 1.5rem;
  grid-template-columns: repeat(auto-fit, minmax(min(22rem, 100%), 1fr)); }
.pictures figure { margin-bottom: .5rem; }
.pictures > :only-child, figure.large { max-width: 44rem; }
.key { margin: .55rem 0 0; font-size: .85rem; }
.key .bar { height: .85rem; margin: .2rem 0 0; border-radius: .2rem; border: 1px solid rgba(26, 35, 64, .3); }
.ticks { position: relative; height: 1.4em; font-variant-numeric: tabular-nums; color: var(--quiet); }
.ticks span { position: absolute; transform: translateX(-50%); white-space: nowrap; }
.ticks span:first-child { transform: none; }
.ticks span:last-child { transform: translateX(-100%); }
.swatches { display: flex; flex-wrap: wrap; gap: .25rem 1.1rem; }
.swatches span { display: inline-flex; align-items: center; gap: .4rem; }
.swatches i, .swatches svg { flex: none; width: .95rem; height: .95rem; border-radius: .2rem;
  border: 1px solid rgba(26, 35, 64, .35); }
.act, .calm { padding: 1rem 1.2rem; border-radius: .6rem; margin: 0 0 1.25rem; }
header .act { margin-top: 1.25rem; }
.act { background: var(--brick-light); border: 1px solid #ecc9b4; }
.act h2, .act h3 { color: var(--brick); margin: 0 0 .6rem; font-size: 1.06rem; line-height: 1.35; }
.calm { background: var(--sea-light); border: 1px solid #c6ded6; }
.calm h3 { margin-top: 0; }
.act > :last-child, .calm > :last-child { margin-bottom: 0; }
footer { color: var(--quiet); font-size: .85rem; border-top: 1px solid var(--line); padding-top: 1rem; }
@media (max-width: 40rem) {
  body { padding: 1.5rem 1rem 3rem; }
  h1 { font-size: 1.7rem; }
  h2 { font-size: 1.3rem; }
  dl.big { grid-template-columns: repeat(2, 1fr); }
  dl.facts div { grid-template-columns: 1fr; }
  table, tbody, tr, th, td, caption { display: block; }
  thead { display: none; }
  tbody tr { padding: .6rem 0; border-bottom: 1px solid var(--line); }
  tbody th, td { border: 0; padding: .1rem 0; }
  td { display: grid; grid-template-columns: 9rem 1fr; gap: 0 .75rem; }
  td::before { content: attr(data-head); color: var(--quiet); }
}
@media print {
  @page { margin: 14mm; }
  html { font-size: 9.5pt; }
  body { padding: 0; max-width: none; background: #fff; }
  nav, .screen { display: none !important; }
  header { margin-bottom: 1.5rem; }
  h1 { font-size: 2rem; }
  h2, h3 { break-after: avoid; }
  section { padding-top: 1.2rem; margin-bottom: 1.2rem; }
  tr, li, dl div, .act, table.short { break-inside: avoid; }
  p { orphans: 3; widows: 3; }
  dl.big { grid-template-columns: repeat(4, 1fr); }
  .wide { overflow: visible; }
  .pictures { grid-template-columns: 1fr 1fr; }
  .pictures > :only-child { grid-column: 1 / -1; max-width: 60%; }
  figure.large { max-width: 80%; }
  .code { font-size: .72rem; }
  a { color: inherit; text-decoration: none; }
  * { -webkit-print-color-adjust: exact; print-color-adjust: exact; }
}
"""
