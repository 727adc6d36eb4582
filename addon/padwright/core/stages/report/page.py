"""A page of one file, made of sections: HTML built from plain words, with its look and its pictures inside.

Whatever a person may have written goes through `escape`; the builders do so themselves, but for what they call `html`.
"""

from __future__ import annotations

import base64
import html as html_text
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from ...base.resources import version
from .style import STYLE

_SHORT = 12  # rows of a table that is printed on one page


@dataclass(frozen=True)
class Section:
    """A chapter of a page."""

    id: str  # a to z and dashes: the place a link goes to
    title: str  # plain words
    body: str  # HTML
    style: str = ""  # CSS that its body needs besides


@dataclass(frozen=True)
class PageHead:
    """What stands above the sections."""

    kind: str  # what the page is, in a word or two
    title: str  # the part's name
    facts: Sequence[str] = ()  # short lines on what the part is
    body: str = ""  # HTML below them


def escape(text: object) -> str:
    """Return a text, or anything's text, so that HTML shows it as it is; also within quotes."""
    return html_text.escape(str(text), quote=True)


def paragraph(text: str, kind: str = "") -> str:
    """Return a paragraph of plain words; `kind` is a class of the style: "lead", "quiet"."""
    return f"<p{_class(kind)}>{escape(text)}</p>\n"


def heading(text: str, anchor: str = "") -> str:
    """Return a heading within a section."""
    return f"<h3{_id(anchor)}>{escape(text)}</h3>\n"


def bullets(texts: Iterable[str], kind: str = "") -> str:
    """Return a list of plain words, "" where there is none."""
    rows = "".join(f"<li>{escape(each)}</li>\n" for each in texts)
    return f"<ul{_class(kind)}>\n{rows}</ul>\n" if rows else ""


def facts(rows: Iterable[tuple[str, str]], kind: str = "facts") -> str:
    """Return names with what they are, both plain words, side by side; "" where there is none."""
    found = "".join(f"<div><dt>{escape(name)}</dt><dd>{escape(value)}</dd></div>\n" for name, value in rows)
    return f"<dl{_class(kind)}>\n{found}</dl>\n" if found else ""


def table(head: Sequence[str], rows: Iterable[Sequence[str]], caption: str = "", kind: str = "") -> str:
    """Return a table of plain words that scrolls sideways by itself where the screen is narrow.

    `rows`: each as long as `head`, its first cell names it. On a phone each row is a card, its cells named by the head.
    """
    top = "".join(f'<th scope="col">{escape(each)}</th>' for each in head)
    body = ""
    for first, *others in rows:
        cells = "".join(
            f'<td data-head="{escape(name)}">{escape(each)}</td>' for name, each in zip(head[1:], others, strict=True)
        )
        body += f'<tr><th scope="row">{escape(first)}</th>{cells}</tr>\n'
    said = f"<caption>{escape(caption)}</caption>\n" if caption else ""
    columns = f"<thead><tr>{top}</tr></thead>\n<tbody>\n{body}</tbody>"
    kind = f"{kind} short".strip() if body.count("<tr>") <= _SHORT else kind
    return f'<div class="wide"><table{_class(kind)}>\n{said}{columns}</table></div>\n'


def picture(png: bytes, words: str, size: tuple[int, int] | None = None) -> str:
    """Return an image that is inside the page; `words` tell it to who does not see it, `size` is its pixels."""
    data = base64.b64encode(png).decode("ascii")
    room = f' width="{size[0]}" height="{size[1]}"' if size else ""
    return f'<img src="data:image/png;base64,{data}" alt="{escape(words)}"{room}>'


def figure(html: str, caption: str, key: str = "", kind: str = "") -> str:
    """Return a picture, or anything else that is shown (HTML), with its key (HTML) and a caption in plain words."""
    return f"<figure{_class(kind)}>\n{html}\n{key}<figcaption>{escape(caption)}</figcaption>\n</figure>\n"


def side_by_side(figures: Iterable[str]) -> str:
    """Return figures beside each other where there is room."""
    found = "".join(figures)
    return f'<div class="pictures">\n{found}</div>\n' if found else ""


def report_page(sections: Sequence[Section], head: PageHead) -> bytes:
    """Return a page: one HTML file in UTF-8 that asks for nothing outside itself.

    The same sections and head give the same bytes. Where there are more than two sections, links to them stand first.
    """
    links = "".join(f'<li><a href="#{each.id}">{escape(each.title)}</a></li>\n' for each in sections)
    contents = f'<nav aria-label="Contents"><ul>\n{links}</ul></nav>\n' if len(sections) > 2 else ""
    about = "".join(f"<p>{escape(each)}</p>\n" for each in head.facts)
    chapters = "".join(
        f'<section id="{each.id}" aria-labelledby="{each.id}-title">\n'
        f'<h2 id="{each.id}-title">{escape(each.title)}</h2>\n{each.body}</section>\n'
        for each in sections
    )
    styles = "".join(dict.fromkeys(each.style for each in sections))
    text = (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{escape(head.title)}: {escape(head.kind)}</title>\n"
        f'<meta name="generator" content="Padwright {escape(version())}">\n'
        f"<style>\n{STYLE}{styles}</style>\n</head>\n<body>\n"
        f'<header>\n<p class="kind">{escape(head.kind)}</p>\n<h1>{escape(head.title)}</h1>\n'
        f'<div class="about">\n{about}</div>\n{head.body}{contents}</header>\n<main>\n{chapters}</main>\n'
        f"<footer><p>Made by Padwright {escape(version())}.</p></footer>\n</body>\n</html>\n"
    )
    return text.encode("utf-8")


def _class(kind: str) -> str:
    return f' class="{kind}"' if kind else ""


def _id(anchor: str) -> str:
    return f' id="{anchor}"' if anchor else ""
