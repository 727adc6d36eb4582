"""The impression scan laid on the base scan."""

from ..stage import Stage, Step

STAGE = Stage(
    __name__,
    title="the alignment",
    after=("scans",),
    reads=("alignment", "seed"),
    steps=(Step("align", 0.23, "work.align"),),
    evidence="evidence.alignment_evidence",
)
