"""Which way the load check's numbers go when one thing about a seat or the body on it changes.

The table stands in docs/models/contact.md.
"""

from __future__ import annotations

import sys

from tests.support.right_way import ROWS

import studying

WAYS = {1: "up", 0: "none", -1: "down"}


def study(seeds: range) -> studying.Finding:
    """Press before and after of some of the changes: each seed one."""
    rows, claims = [], []
    for row in (ROWS[seed] for seed in seeds):
        before, after = row.values()
        rows.append((row.change, row.number, WAYS[row.way], f"{before:.3g}", f"{after:.3g}"))
        claims.append((f"{row.change}: {row.number}: {WAYS[row.way]}", row.goes(before, after)))
    return studying.Finding(
        ("what changes", "what is told", "should go", "before", "after"), tuple(rows), tuple(claims)
    )


if __name__ == "__main__":
    sys.exit(studying.main(__doc__, study, draws=len(ROWS), sample=len(ROWS)))
