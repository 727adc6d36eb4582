"""The print sheet: one page of paper to type from at the printer, with room to note what was really set."""

from __future__ import annotations

import base64
from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

from .bed_pictures import FREE, ON_BED, SUPPORTED, BedPicture
from .setting_lines import RegionLines, SettingLine, shared_lines

MOST_ON_FIRST = 12
"""Regions that the first page holds with all else, on A4 and Letter (`scripts/look_at_sheets.py`); the rest goes on."""
MOST_ON_NEXT = 28
"""Regions on each page after it."""
_ROOMY = 5
"""Regions up to which rows are taller and there is more room to write."""
_WATCHED = {True: 520, False: 330}
"""Characters that there is room for of what to look at, with few regions and with many; 100 are about a line."""
_LINE = 100
_SCALES_CM = (20, 10, 5, 2, 1)
_LONGEST_SCALE = 0.4  # of the picture's width: beside it stands where the front is
_LONGEST_NAME = 42  # characters in the two lines of a cell


@dataclass(frozen=True)
class SheetRegion:
    """A row of the sheet."""

    lines: RegionLines
    color: str  # "#RRGGBB"
    layers: str  # from which layer to which it reaches
    mass_g: str


@dataclass(frozen=True, eq=False)
class SheetParts:
    """All that stands on a sheet, in the person's words."""

    name: str
    number: str
    revision: str
    created: str
    program: str  # what the person calls their program; "" for none named
    facts: tuple[tuple[str, str], ...]  # the print as a whole: (what, how)
    regions: tuple[SheetRegion, ...]
    always: tuple[tuple[str, str], ...]  # the person's own lines: (name, value)
    watch: tuple[str, ...]  # what to look at before and while it prints, the weightiest first
    weight: str  # what it should weigh
    hours: str
    below: BedPicture
    above: BedPicture


def print_sheet(parts: SheetParts) -> bytes:
    """Return the sheet as one HTML file that needs nothing beside it."""
    same, differing = shared_lines([region.lines for region in parts.regions])
    is_roomy = len(parts.regions) <= _ROOMY
    first, rest = parts.regions[:MOST_ON_FIRST], parts.regions[MOST_ON_FIRST:]
    pages = [rest[at : at + MOST_ON_NEXT] for at in range(0, len(rest), MOST_ON_NEXT)]
    body = [
        _head(parts, 1, 1 + len(pages)),
        f'<div class="top">{_facts(parts)}{_pictures(parts)}</div>',
        _whole_part(parts, same),
        _regions(first, differing, 1, more=len(rest)),
        _watch(parts.watch, _WATCHED[is_roomy]),
        _really(parts),
    ]
    for at, page in enumerate(pages):
        start = 1 + MOST_ON_FIRST + at * MOST_ON_NEXT
        left = len(rest) - at * MOST_ON_NEXT - len(page)
        body += [
            f'<section class="next">{_head(parts, at + 2, 1 + len(pages))}',
            _regions(page, differing, start, more=left),
            "</section>",
        ]
    kind = "roomy" if is_roomy else "dense"
    title = escape(f"{parts.number}, print sheet")
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f'<title>{title}</title>\n<style>\n{_STYLE}</style>\n</head>\n<body class="{kind}">\n'
        + "\n".join(body)
        + "\n</body>\n</html>\n"
    ).encode()


def _head(parts: SheetParts, page: int, pages: int) -> str:
    of_pages = f", page {page} of {pages}" if pages > 1 else ""
    about = f"{parts.number}, revision {parts.revision}{of_pages}"
    tag = "h1" if page == 1 else "h2"
    return f"<header><{tag}>{escape(parts.name)}</{tag}><p>{escape(about)}<br>{escape(parts.created)}</p></header>"


def _facts(parts: SheetParts) -> str:
    rows = "".join(f"<dt>{escape(what)}</dt><dd>{escape(how)}</dd>" for what, how in parts.facts)
    return f"<dl>{rows}</dl>"


def _pictures(parts: SheetParts) -> str:
    key = "".join(
        f'<span><i class="{name}"></i>{words}</span>'
        for name, words in (("held", "needs support"), ("lies", "lies on the bed"), ("free", "needs none"))
    )
    return (
        f'<div class="pictures">{_picture(parts.below, "From below", "right of the bed", "left of the bed")}'
        f'{_picture(parts.above, "From above", "left of the bed", "right of the bed")}<p class="key">{key}</p></div>'
    )


def _picture(picture: BedPicture, title: str, left: str, right: str) -> str:
    """Return a picture with its numbers, a scale and the sides of the bed."""
    wide, tall = picture.width, picture.height
    radius, size = 0.036 * max(wide, tall), 0.05 * max(wide, tall)
    long = next((each for each in _SCALES_CM if 10.0 * each * picture.pixels_per_mm < _LONGEST_SCALE * wide), 1)
    bar = 10.0 * long * picture.pixels_per_mm
    marks = [
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{radius:.1f}" fill="#fff" stroke="#000"/>'
        f'<text x="{x:.1f}" y="{y + 0.36 * size:.1f}" text-anchor="middle">{index + 1}</text>'
        for index, x, y in picture.labels
    ]
    scale = f'<path d="M4 {tall + 0.5 * size:.1f}h{bar:.1f}" stroke="#000" stroke-width="{0.004 * wide:.1f}"/>'
    scale += f'<text x="{bar + 10:.1f}" y="{tall + 0.8 * size:.1f}">{long} cm</text>'
    front = f'<text x="{0.97 * wide:.1f}" y="{tall + 0.8 * size:.1f}" text-anchor="end">front of the bed</text>'
    data = base64.b64encode(picture.png).decode()
    return (
        f'<figure><figcaption><b>{title}</b></figcaption><svg viewBox="0 0 {wide} {tall + size:.1f}" role="img" '
        f'aria-label="{title}: {left} on the left, {right} on the right" font-size="{size:.1f}">'
        f'<image href="data:image/png;base64,{data}" width="{wide}" height="{tall}"/>{"".join(marks)}{scale}{front}'
        "</svg></figure>"
    )


def _whole_part(parts: SheetParts, same: Sequence[SettingLine]) -> str:
    into = f" in {escape(parts.program)}" if parts.program else ""
    rows = [(line.name, line.told, line.where) for line in same] + [(*line, "") for line in parts.always]
    cells = "".join(
        f"<div><span>{escape(name)}{_where(where)}</span><b>{escape(value)}</b><u></u></div>"
        for name, value, where in rows
    )
    return f'<h2>Set{into} for the whole part</h2><div class="whole">{cells}</div>'


def _where(where: str) -> str:
    return f" <small>{escape(where)}</small>" if where else ""


def _regions(regions: Sequence[SheetRegion], columns: Sequence[SettingLine], start: int, *, more: int) -> str:
    """Return the table of the regions, or one line where there is but one and nothing left to set."""
    if not columns:
        return ""
    heads = "".join(
        f'<th scope="col">{escape(line.name)}{f", {escape(line.unit)}" if line.unit else ""}{_where(line.where)}</th>'
        for line in columns
    )
    rows = []
    for at, region in enumerate(regions):
        values = "".join(f"<td><b>{escape(region.lines.value(line.key)) or '-'}</b></td>" for line in columns)
        rows.append(
            f'<tr><th scope="row"><i style="background:{region.color}"></i>{start + at}</th>'
            f'<td class="name"><div>{escape(_in_short(region.lines.name))}</div></td>{values}'
            f'<td class="layers">{escape(region.layers)}</td>'
            f'<td>{escape(region.mass_g)}</td><td class="note"></td></tr>'
        )
    last = start + len(regions)
    title = "Click each region and set" if start == 1 else "Regions, continued"
    to_be = f'<p class="more">Continued: regions {last} to {last + more - 1} on the next page.</p>' if more else ""
    return (
        f'<h2>{title}</h2><div class="scroll"><table><thead><tr><th scope="col">no.</th><th scope="col">region</th>'
        f'{heads}<th scope="col">layers</th><th scope="col">g</th><th scope="col" class="note">really set</th>'
        f"</tr></thead><tbody>{''.join(rows)}</tbody></table></div>{to_be}"
    )


def _in_short(name: str) -> str:
    """Return a region's name; of one too long for its cell the middle is left out, as names differ at their ends."""
    return name if len(name) <= _LONGEST_NAME else f"{name[: _LONGEST_NAME - 17]} ... {name[-12:]}"


def _watch(notes: Sequence[str], room: int) -> str:
    """Return what to look at, as many whole notes as there is room for; a first one that is longer is cut."""
    shown: list[str] = []
    left = room
    for note in notes:
        if len(note) > left and shown:
            break
        shown.append(note if len(note) <= left else f"{note[:left].rsplit(' ', 1)[0].rstrip(',;:')} ... (goes on)")
        left -= max(len(note), _LINE)
    more = len(notes) - len(shown)
    shown += [f"{more} more to look at: in the report, or by a run with -v."] if more else []
    return f"<h2>Watch</h2><ul>{''.join(f'<li>{escape(each)}</li>' for each in shown)}</ul>"


def _really(parts: SheetParts) -> str:
    asked = (
        ("Date", ""),
        ("Printer", ""),
        ("Spool", ""),
        ("Weighs, g", parts.weight),
        ("Took, h", parts.hours),
    )
    boxes = "".join(f"<div>{escape(name)}<small>{escape(expected)}</small></div>" for name, expected in asked)
    return (
        f'<h2>Note what it became</h2><div class="boxes">{boxes}</div>'
        '<div class="boxes wide"><div>What went otherwise</div></div>'
    )


_STYLE = f"""\
@page {{ margin: 10mm; }}
* {{ box-sizing: border-box; }}
html {{ -webkit-print-color-adjust: exact; print-color-adjust: exact; }}
body {{ font: 9.5pt/1.25 system-ui, "Liberation Sans", Arial, sans-serif; color: #000; background: #fff;
  max-width: 190mm; margin: 0 auto; padding: 4mm; }}
header {{ display: flex; justify-content: space-between; align-items: baseline; gap: 6mm;
  border-bottom: 0.6mm solid #000; }}
h1, header h2 {{ font-size: 15pt; margin: 0; line-height: 1.15; }}
header p {{ margin: 0; text-align: right; font-weight: bold; white-space: nowrap; }}
h2 {{ font-size: 10.5pt; margin: 2.4mm 0 0.8mm; }}
body {{ counter-reset: step; }}
body > h2::before {{ counter-increment: step; content: counter(step) ". "; }}
.top {{ display: grid; grid-template-columns: 1fr 92mm; gap: 4mm; margin-top: 1.5mm; }}
dl {{ display: grid; grid-template-columns: auto 1fr; gap: 0.6mm 2mm; margin: 0; align-content: start; }}
dt {{ color: #333; }}
dd {{ margin: 0; font-weight: bold; }}
.pictures {{ display: grid; grid-template-columns: 1fr 1fr; gap: 1mm 2mm; align-content: start; }}
figure {{ margin: 0; }}
figcaption {{ font-size: 8pt; }}
svg {{ display: block; width: 100%; max-height: 55mm; }}
.key {{ grid-column: 1 / -1; margin: 0; font-size: 8pt; display: flex; flex-wrap: wrap; gap: 0 3mm; }}
.key span {{ white-space: nowrap; }}
i {{ display: inline-block; width: 3mm; height: 3mm; border: 0.2mm solid #000; margin-right: 1mm;
  vertical-align: -0.3mm; }}
i.held {{ background: repeating-linear-gradient(135deg, #6d4217 0 0.4mm, {SUPPORTED} 0.4mm 1.2mm); }}
i.lies {{ background: {ON_BED}; }}
i.free {{ background: {FREE}; }}
.whole {{ display: grid; grid-template-columns: 1fr 1fr; gap: 0 5mm; border-top: 0.2mm solid #777; }}
.whole div {{ display: grid; grid-template-columns: 1fr auto 22mm; gap: 2mm; align-items: end;
  border-bottom: 0.2mm solid #777; padding: 0.5mm 0; }}
.whole b {{ text-align: right; }}
.whole u {{ border-left: 0.2mm solid #777; height: 100%; min-height: 4mm; }}
small {{ font-size: 7.5pt; color: #333; font-weight: normal; }}
table {{ border-collapse: collapse; width: 100%; }}
th, td {{ border: 0.2mm solid #777; padding: 0.5mm 1.2mm; text-align: left; vertical-align: middle; }}
thead th {{ font-size: 8pt; font-weight: normal; vertical-align: bottom; }}
tr {{ break-inside: avoid; }}
th[scope=row], td b, .layers {{ white-space: nowrap; }}
thead th {{ hyphens: auto; }}
.name {{ min-width: 30mm; }}
.name div, h1, header h2 {{ display: -webkit-box; -webkit-box-orient: vertical; -webkit-line-clamp: 2; overflow: hidden;
  overflow-wrap: anywhere; }}
.note {{ width: 26mm; }}
.dense {{ font-size: 9pt; }}
.dense h1, .dense header h2 {{ font-size: 13pt; }}
.dense h2 {{ margin-top: 1.6mm; font-size: 9.5pt; }}
.dense td, .dense th {{ padding-top: 0.2mm; padding-bottom: 0.2mm; }}
.dense tbody {{ line-height: 1.05; }}
.dense tbody tr {{ height: 6mm; }}
.dense .boxes div {{ min-height: 9mm; }}
.dense .boxes.wide div {{ min-height: 10mm; }}
.name {{ font-size: 8.5pt; }}
.dense .name {{ font-size: 7.5pt; }}
.dense svg {{ max-height: 40mm; }}
.dense thead th {{ font-size: 7.5pt; }}
.more {{ margin: 1mm 0 0; font-weight: bold; }}
ul {{ margin: 0; padding-left: 4.5mm; }}
li {{ margin: 0.3mm 0; }}
.boxes {{ break-inside: avoid; display: grid; grid-template-columns: repeat(5, 1fr); }}
.boxes div {{ border: 0.2mm solid #777; min-height: 11mm; padding: 0.5mm 1mm; font-size: 8pt; display: flex;
  flex-direction: column; justify-content: space-between; margin: 0 -0.1mm -0.1mm 0; }}
.boxes.wide {{ grid-template-columns: 1fr; }}
.boxes.wide div {{ min-height: 14mm; }}
.roomy .top {{ grid-template-columns: 1fr 104mm; }}
.roomy td, .roomy .whole div {{ padding-top: 1mm; padding-bottom: 1mm; }}
.roomy .boxes.wide div {{ min-height: 20mm; }}
.next {{ break-before: page; }}
@media print {{ body {{ padding: 0; max-width: none; }} }}
@media screen and (max-width: 700px) {{
  .top, .roomy .top, .whole {{ grid-template-columns: minmax(0, 1fr); }}
  .boxes {{ grid-template-columns: 1fr 1fr; }}
  header {{ flex-wrap: wrap; }}
  .scroll {{ overflow-x: auto; }}
}}
"""
