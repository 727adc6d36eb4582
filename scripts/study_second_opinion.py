"""What finite elements say of bodies on bonded layers, and how far the load check's columns are off.

The table stands in docs/models/contact.md.
"""

from __future__ import annotations

import sys

from tests.support.second_opinion import CASES, Opinion

import studying

CELLS = 12
MESH = 0.01
"""What halving the elements may change: well below the 15 % that columns are held to."""


def words(found: Opinion) -> tuple[str, ...]:
    """Return a row's cells but its name."""
    columns = found.columns
    spread = f" ({columns.low:.3g} to {columns.high:.3g})" if columns.high > 1.001 * columns.low else ""
    besides = f"{found.besides[0]} {100.0 * found.besides[1]:+.0f} %" if found.besides else ""
    return (
        found.told,
        f"{found.elements:.3g}",
        f"{columns.value:.3g}{spread}",
        f"{100.0 * found.off:+.0f} %",
        besides,
        found.verdict,
    )


def study(seeds: range) -> studying.Finding:
    """Compare some of the cases, every eleventh, round and round: each seed one."""
    rows, claims = [], []
    for number in sorted({11 * seed % len(CASES) for seed in seeds}):
        case = CASES[number]
        found = case.compare(CELLS)
        mesh = abs(case.compare(CELLS // 2).off - found.off)
        rows.append((str(case), f"{case.poisson:g}", *words(found)))
        claims.append((f"{case}: half the mesh changes {100.0 * mesh:.1f} %", mesh < MESH * (1.0 + abs(found.off))))
        name = "missed" if case.is_known_miss else "not missed"
        claims.append((f"{case} is marked as {name}", found.is_missed == case.is_known_miss))
    head = ("case", "Poisson's ratio", "told", "elements", "columns (low to high)", "off by", "besides", "verdict")
    return studying.Finding(head, tuple(rows), tuple(claims))


if __name__ == "__main__":
    sys.exit(studying.main(__doc__, study, draws=len(CASES), sample=14))
