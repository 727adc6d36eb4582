"""What every study has in common: its command line, its table, and what it claims.

A study (`scripts/study_<subject>.py`) tries the product over many made-up cases. Whole, it takes minutes or hours and
prints the table that a page in docs keeps; with `--sample` it takes a fixed few of the same cases, at most 30 s, and
still ends with 1 when a claim does not hold. `scripts/run_studies.py` starts them.
"""

from __future__ import annotations

import argparse
import math
import sys
import time
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
PATHS = [str(ROOT / folder) for folder in ("addon", "scripts", "tests", ".")]  # the tests import from the same four
TOO_RARE = 1e-3  # a claim about a share is refused when so few draws, or fewer, would hold it by chance alone

sys.path[:0] = [path for path in PATHS if path not in sys.path]


@dataclass(frozen=True)
class Finding:
    """What a study found.

    Attributes
    ----------
    head : tuple of str
        Titles of the table's columns.
    rows : tuple of tuple of str
        The table, as docs keep it.
    claims : tuple of (str, bool)
        What must hold, in words with the number found, and if it does. At least one.
    """

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    claims: tuple[tuple[str, bool], ...]


def can_be(hits: int, draws: int, share: float) -> bool:
    """Say if `hits` of `draws` can come from a true share of `share` or more (one-sided binomial, chance TOO_RARE).

    So the same claim serves a sample of few draws and the whole study: more draws allow less.
    """
    if share <= 0.0 or share >= 1.0:
        return share <= 0.0 or hits == draws
    whole, log, log_rest = math.lgamma(draws + 1), math.log(share), math.log1p(-share)
    chances = (
        math.exp(whole - math.lgamma(k + 1) - math.lgamma(draws - k + 1) + k * log + (draws - k) * log_rest)
        for k in range(hits + 1)
    )
    return math.fsum(chances) >= TOO_RARE


def table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """Return a table in Markdown."""
    lines = [f"| {' | '.join(cells)} |" for cells in (head, *rows)]
    return "\n".join([lines[0], "|" + "---|" * len(head), *lines[1:]])


def main(
    doc: str | None,
    study: Callable[[range], Finding],
    *,
    draws: int,
    sample: int,
    argv: Sequence[str] | None = None,
) -> int:
    """Do a study from its command line: print its table, name claims that do not hold, and return 1 for those.

    Parameters
    ----------
    doc : str or None
        The study's docstring; its first line is the help.
    study : callable
        Takes the seeds of its draws. The same seeds give the same finding.
    draws, sample : int
        How many draws the whole takes, and the sample (which starts at the same seed).
    argv : sequence of str, optional
        Default: the command line's.
    """
    parser = argparse.ArgumentParser(description=(doc or "").splitlines()[0])
    parser.add_argument("--sample", action="store_true", help=f"the first {sample} of {draws} draws")
    parser.add_argument("--draws", type=int, metavar="N", help=f"another number of draws than {draws}")
    parser.add_argument("--first", type=int, default=0, metavar="SEED", help="seed of the first draw (default 0)")
    chosen = parser.parse_args(argv)
    count = chosen.draws or (sample if chosen.sample else draws)
    began = time.perf_counter()
    finding = study(range(chosen.first, chosen.first + count))
    print(table(finding.head, finding.rows))
    print(f"\n{count} draws from seed {chosen.first}, {time.perf_counter() - began:.1f} s", flush=True)
    broken = [words for words, holds in finding.claims if not holds]
    if not finding.claims:
        broken = ["the study claims nothing"]
    for words in broken:
        print(f"does not hold: {words}", file=sys.stderr)
    return 1 if broken else 0
