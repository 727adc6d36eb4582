"""What the pad tells the person, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ..geometry.samples import Fineness

if TYPE_CHECKING:
    from .pad import Pad


def notes_on(pad: Pad, coarse: dict[str, Fineness], told: tuple[str | None, ...]) -> tuple[str, ...]:
    """Return the notes a person should read with the numbers, what changes the part first.

    Parameters
    ----------
    pad : Pad
    coarse : what a coarse scan is called -> how fine it is
    told : what footprint, channels and `thin_note` have to say, if anything
    """
    notes = [note for note in told if note]
    if pad.left_out_cm3 > 0.0005:
        notes.append(
            f"Pieces of {pad.left_out_cm3:.3g} cm3 in all hang together with nothing and were left out; the main body "
            f"has {pad.volume_cm3:.1f} cm3."
        )
    if pad.thickened_cm2 > 0.05:
        notes.append(
            f"Over {pad.thickened_cm2:.1f} cm2 the clay was thinner than asked; the pad was thickened there, so the "
            "body presses deeper than it did in the clay."
        )
    for name, fineness in coarse.items():
        notes.append(
            f"The {name} is coarse: its triangles are {fineness.edge_mm:.1f} mm across, and the pad is made to "
            f"{pad.averaging_mm:.1f} mm. Between its points the surface was taken as flat, which may be off by "
            f"{fineness.sag_mm:.2f} mm (95 % of places). Scan finer where that matters."
        )
    if pad.base_noise_mm < 0.005:
        notes.append(
            "From point to point the base scan scatters by less than 0.01 mm; noise in waves longer than "
            f"{pad.averaging_mm:.1f} mm cannot be told from shape and stays on the pad's base side."
        )
    else:
        notes.append(
            f"The base scan scatters by {pad.base_noise_mm:.2f} mm; averaging leaves {pad.base_noise_left_mm:.2f} mm "
            "of it on the pad's base side."
        )
    return tuple(notes)
