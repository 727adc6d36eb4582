"""The table of a batch as a page: sortable, with a small picture of each part, what needs a look first on top."""

from __future__ import annotations

import posixpath
from collections.abc import Sequence
from pathlib import Path
from urllib.parse import quote

from ..core.base.text import counted, figure
from ..core.stages.packing.sidecar import run_time_utc
from ..core.stages.report.page import PageHead, Section, escape, facts, report_page
from .table import LOOK_WORDS, JobRow, Urgency, look_words
from .words import duration

MOST_PICTURES = 500
"""Of the rows that come first; more would make the page too heavy to open. The others' reports have theirs."""

_NUMBERS = (
    ("mass_g", "Mass, g", 0),
    ("print_hours", "Print, h", 1),
    ("volume_cm3", "Volume, cm3", 1),
    ("largest_pressure_kPa", "Largest pressure, kPa", 0),
    ("sinkage_mm", "Sinks in, mm", 1),
    ("alignment_rms_mm", "Scans agree to, mm", 2),
)
_SHOWN_REASONS = 3

_STYLE = """\
#parts .seen { width: 5.65rem; }
#parts .seen img { display: block; width: 4.75rem; height: 4.75rem; border-radius: .4rem; }
#parts .name { min-width: 9rem; }
#parts .why { min-width: 17rem; }
#parts td.number { text-align: right; white-space: nowrap; }
#parts th.number, #parts .number button { text-align: right; }
#parts thead button { font: inherit; color: inherit; background: none; border: 0; padding: 0; cursor: pointer;
  text-align: left; }
#parts thead button:hover, #parts thead button:focus-visible { color: var(--sea); text-decoration: underline; }
#parts th[aria-sort="ascending"] button::after { content: " \\25B2"; }
#parts th[aria-sort="descending"] button::after { content: " \\25BC"; }
#parts .mark { display: inline-block; padding: .05rem .5rem; border-radius: .6rem; font-size: .82rem;
  font-weight: 600; }
#parts .mark-hot { background: var(--brick-light); color: var(--brick); }
#parts .mark-warm { background: var(--sea-light); color: var(--sea); }
#parts .mark-cold { border: 1px solid var(--line); color: var(--quiet); }
#parts .under { display: block; font-weight: 400; color: var(--quiet); font-size: .85rem; }
#parts td ul { margin: .3rem 0 0; padding-left: 1rem; font-size: .85rem; }
#parts td li { margin: 0 0 .15rem; }
#parts .tools { display: flex; flex-wrap: wrap; gap: .6rem 1.4rem; margin: 0 0 1.1rem; }
#parts .tools label { display: inline-flex; align-items: center; gap: .5rem; color: var(--quiet); font-size: .9rem; }
#parts .tools select, #parts .tools input { font: inherit; color: var(--ink); padding: .3rem .5rem; max-width: 15rem;
  border: 1px solid var(--line); border-radius: .4rem; background: var(--card); }
@media (min-width: 60rem) { body { max-width: 84rem; } }
@media (max-width: 40rem) {
  #parts tbody tr { display: grid; grid-template-columns: 5rem 1fr; gap: 0 .8rem; padding: .9rem 0; }
  #parts tbody tr[hidden] { display: none; }
  #parts tbody tr > * { grid-column: 2; min-width: 0; }
  #parts tbody tr > .seen { grid-column: 1; grid-row: 1 / span 2; width: auto; }
  #parts .name, #parts .why { min-width: 0; }
  #parts .seen::before, #parts .why::before { content: none; }
  #parts td { grid-template-columns: 9.5rem 1fr; }
  #parts td.why { display: block; }
  #parts td.empty { display: none; }
  #parts td.number { text-align: left; white-space: normal; }
}
@media print { #parts .seen { width: 4rem; } #parts .seen img { width: 3rem; height: 3rem; } }
"""


def table_page(rows: Sequence[JobRow], title: str, seconds: float) -> bytes:
    """Return the page, which asks for nothing but its links to the parts' reports; `seconds` is the batch's time."""
    made, kept = (sum(each.state == state for each in rows) for state in ("made", "unchanged"))
    looked = look_words(rows)
    told = [
        f"{counted(len(rows), 'job')}: {made} made{f' in {duration(seconds)}' if made else ''}, {kept} done before and "
        "unchanged",
        f"Look first at: {looked}" if looked else "Nothing needs a look first.",
        run_time_utc().replace("T", ", ").replace("Z", " UTC"),
    ]
    done = [each for each in rows if each.record is not None and each.record.is_done]
    big = facts(
        [
            ("Parts", str(len(done))),
            ("Failed", str(sum(each.look is Urgency.FAILED for each in rows))),
            ("Before you print", str(sum(each.look is Urgency.ACT for each in rows))),
            ("Filament, all parts", f"{_sum(done, 'mass_g') / 1000.0:.2f} kg"),
            ("Printing, all parts", f"{_sum(done, 'print_hours'):.0f} h"),
        ],
        "big",
    )
    body = _tools() + _table(rows) + f"<script>\n{_script()}</script>\n"
    return report_page([Section("parts", "Parts", body, _STYLE)], PageHead("Batch", title, told, big))


def _script() -> str:
    return Path(__file__).with_name("table_page.js").read_text("utf-8")


def _sum(rows: Sequence[JobRow], name: str) -> float:
    return sum(float(each.part.get(name) or 0.0) for each in rows)


def _columns() -> list[tuple[str, str, str]]:
    """Return key, title and class of the columns that can be sorted by."""
    numbers = [(name, title, "number") for name, title, _ in _NUMBERS]
    return [
        ("name", "Part", ""),
        ("look", "What needs a look first", "why"),
        *numbers,
        ("seconds", "Took, s", "number"),
    ]


def _tools() -> str:
    options = "".join(
        f'<option value="{key}"{" selected" if key == "look" else ""}>{escape(title)}</option>\n'
        for key, title, _ in _columns()
    )
    return (
        '<div class="tools screen">\n'
        f'<label>Sort by <select id="sort-by">\n{options}</select></label>\n'
        '<label>Show <select id="show-only"><option value="">all</option>\n'
        '<option value="look">what needs a look</option>\n<option value="failed">failed</option></select></label>\n'
        '<label>Find <input id="find" type="search"></label>\n</div>\n'
    )


def _table(rows: Sequence[JobRow]) -> str:
    heads = "".join(
        f'<th scope="col" data-key="{key}"{_class(kind)}><button type="button">{escape(title)}</button></th>'
        for key, title, kind in _columns()
    )
    body = "".join(_row(row, place) for place, row in enumerate(rows))
    return (
        '<div class="wide"><table>\n<thead><tr><th scope="col" class="seen"><span class="screen">Picture</span></th>'
        f"{heads}</tr></thead>\n<tbody>\n{body}</tbody></table></div>\n"
    )


def _row(row: JobRow, place: int) -> str:
    keys = " ".join(f'data-{key}="{escape(value)}"' for key, value in _sort_keys(row, place).items())
    # The cell that names a row comes second, after its picture.
    return (
        f"<tr {keys}>"
        f'<td class="seen">{_picture(row) if place < MOST_PICTURES else ""}</td>'
        f'<th scope="row" class="name">{_name(row)}</th>'
        f'<td class="why{"" if row.why or row.look is not Urgency.FINE else " empty"}">{_why(row)}</td>'
        + "".join(_number(row.part.get(name), title, decimals) for name, title, decimals in _NUMBERS)
        + _number(row.record.seconds if row.record is not None else None, "Took, s", 0)
        + "</tr>\n"
    )


def _sort_keys(row: JobRow, place: int) -> dict[str, object]:
    """Return what the page sorts and finds by; what is not known is empty and comes last."""
    numbers = {name.lower().replace("_", "-"): row.part.get(name) for name, _, _ in _NUMBERS}
    return {
        "look": place,
        "kind": LOOK_WORDS[row.look],
        "name": f"{row.part.get('name', '')} {row.number} {row.job.name}",
        **{key: "" if value is None else value for key, value in numbers.items()},
        "seconds": "" if row.record is None else row.record.seconds,
    }


def _picture(row: JobRow) -> str:
    record = row.record
    if record is None or not record.picture:
        return ""
    return (
        f'<img src="data:image/png;base64,{record.picture}" alt="{escape(row.number)}" width="128" height="128" '
        'loading="lazy">'
    )


def _name(row: JobRow) -> str:
    record = row.record
    shown = escape(row.number or row.job.name)
    report = ""
    if record is not None and record.is_done:
        report = next((each for each in sorted(record.files) if each.endswith(".report.html")), "")
        sheet = next((each for each in sorted(record.files) if each.endswith(".sheet.html")), "")
        if report or sheet:
            shown = f'<a href="{_link(record.place, report or sheet)}">{shown}</a>'
    name, revision = row.part.get("name", ""), row.part.get("revision", "1")
    words = f"{name}, revision {revision}" if revision != "1" else name
    under = f'<span class="under">{escape(words)}</span>' if words else ""
    return f'{shown}{under}<span class="under">{escape(row.job.name)}</span>'


def _link(place: str, name: str) -> str:
    return escape(quote(posixpath.join(place.replace("\\", "/"), name)))


def _why(row: JobRow) -> str:
    kinds = {Urgency.FAILED: "hot", Urgency.ACT: "hot", Urgency.CHANGED: "warm", Urgency.NOT_RUN: "cold"}
    if row.look is Urgency.FINE:
        return ""
    code = f" ({row.record.code})" if row.record is not None and row.look is Urgency.FAILED else ""
    reasons = list(row.why)
    if row.record is not None and row.record.hint:
        reasons[0] = f"{reasons[0]} {row.record.hint}"
    shown = reasons[:_SHOWN_REASONS]
    if len(reasons) > len(shown):
        shown.append(f"and {len(reasons) - len(shown)} more, in the report")
    items = "".join(f"<li>{escape(each)}</li>\n" for each in shown)
    mark = f'<span class="mark mark-{kinds[row.look]}">{escape(LOOK_WORDS[row.look])}{code}</span>'
    return f"{mark}\n<ul>\n{items}</ul>\n" if items else mark


def _number(value: object, title: str, decimals: int) -> str:
    if not isinstance(value, int | float):
        return f'<td class="number empty" data-head="{escape(title)}"></td>'
    return f'<td class="number" data-head="{escape(title)}">{figure(value, decimals)}</td>'


def _class(kind: str) -> str:
    return f' class="{kind}"' if kind else ""
