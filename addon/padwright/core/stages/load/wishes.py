"""What a job may choose from, and wishes that cannot be met: told before any work."""

from __future__ import annotations

from ...base.errors import InputError
from ...job.read import blame_key
from ...job.schema import Job
from ..material.choosing import PrintLimits

_BEADS = (1.125, 1.5)
"""Bead widths in nozzle diameters where the job names none: common practice, no source."""


def check_wishes(job: Job) -> None:
    """Refuse, before any work, a layer that no bead can print and a target that cannot be tuned to.

    Raises InputError when every bead is thinner than the layer, no load is given to tune to, no zone to relieve is
    named, or all are.
    """
    if job.printer.layer_thickness_mm is not None:
        print_limits(job).beads_for(job.printer.layer_thickness_mm)
    target = job.target
    if target.goal == "levels":
        return
    if target.goal == "relieve" and not (target.relieve or target.caps):
        with blame_key("target", "relieve"):
            raise InputError('This key is missing; the goal "relieve" needs the names of zones, or target.caps.')
    if target.goal == "relieve" and job.zones and {zone.name for zone in job.zones} <= set(target.relieve):
        with blame_key("target", "relieve"):
            raise InputError(
                "It names every zone, so none is left to bear what they shed.",
                hint="Leave out the zones that may bear.",
            )
    is_wrapped = job.body.press_direction == "inward"
    if not is_wrapped and job.load.force_n is None and job.load.share == 0.0:
        with blame_key("load", "share"):
            raise InputError("It is 0, so there is no load to tune to.", hint="Give a share above 0, or load.force_n.")
    if not is_wrapped and job.load.body_mass_kg is None and job.load.force_n is None:
        with blame_key("load", "body_mass_kg"):
            raise InputError("This key is missing; tuning needs it, or load.force_n.")


def print_limits(job: Job) -> PrintLimits:
    """Return what may be chosen."""
    given = job.limits
    beads = given.bead_widths_mm
    if job.printer.bead_width_mm is not None:
        beads = (job.printer.bead_width_mm,)
    low, high = given.contour_counts
    density = (given.solid_share_pct[0], given.solid_share_pct[1])
    return PrintLimits(
        beads or tuple(round(factor * job.printer.nozzle_mm, 3) for factor in _BEADS),
        density,
        given.fill_structures,
        (int(low), int(high)),
    )
