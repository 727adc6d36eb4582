"""The pad between base and body."""

from ..stage import Stage, Step

STAGE = Stage(
    __name__,
    title="the pad",
    after=("scans", "alignment", "reading"),
    reads=("pad",),
    files=("pad.envelope",),
    steps=(Step("build the pad", 0.2, "work.shape_pad"),),
    evidence="evidence.pad_evidence",
)
