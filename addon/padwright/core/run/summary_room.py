"""A summary that keeps to one screen: what is told in any case, and what as far as there is room."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass

WIDTH = 110
"""Columns of a line."""


@dataclass(frozen=True)
class Paragraph:
    """What is told in one place, shorter or longer."""

    # The lines, from the shortest version, which is told in any case, to the longest.
    versions: tuple[tuple[str, ...], ...]
    order: int = 0  # the lower, the sooner it grows where there is room
    about: str = ""  # what more of it is called where it is not told in full; "" for nothing worth mentioning
    is_whole: bool = True  # whether the longest version tells all there is


def wrapped(text: str, indent: str = "  ", first: str = "") -> tuple[str, ...]:
    """Return a text in lines of `WIDTH`; what has no space in it, as a path, is never cut."""
    return tuple(
        textwrap.wrap(
            text,
            WIDTH,
            initial_indent=first,
            subsequent_indent=indent,
            break_long_words=False,
            break_on_hyphens=False,
        )
    )


def growing(
    sentences: Sequence[str], order: int, about: str = "", *, least: int = 1, most_lines: int | None = None
) -> Paragraph:
    """Return a paragraph whose versions tell one whole sentence after the other.

    The `least` first are told in any case; no version but the shortest takes more than `most_lines`.
    """
    every = [wrapped(" ".join(sentences[:count])) for count in range(min(least, len(sentences)), len(sentences) + 1)]
    short = [each for each in every if most_lines is None or len(each) <= most_lines] or every[:1]
    return Paragraph(tuple(short), order, about, len(short) == len(every))


def fitted(paragraphs: Sequence[Paragraph], room: int | None) -> list[int]:
    """Return which version of each paragraph is told so that all keep to so many lines.

    Those of a lower order grow first, as far as they can. Where the shortest versions take more than the room, they
    are told all the same. Without a limit all are told in full.
    """
    if room is None:
        return [len(each.versions) - 1 for each in paragraphs]
    taken = [0] * len(paragraphs)
    left = room - sum(len(each.versions[0]) for each in paragraphs)
    for at in sorted(range(len(paragraphs)), key=lambda number: paragraphs[number].order):
        versions = paragraphs[at].versions
        for number in range(len(versions) - 1, 0, -1):
            extra = len(versions[number]) - len(versions[0])
            if extra <= left:
                taken[at] = number
                left -= extra
                break
    return taken
