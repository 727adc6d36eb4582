"""The commands around printed blocks: make them, and turn what was read on them into a material card."""

from __future__ import annotations

import argparse
import hashlib
from dataclasses import replace
from pathlib import Path
from typing import Any

from ..core.base.errors import InputError
from ..core.base.files import MOST_TABLE_BYTES, read_named, write_new
from ..core.base.text import counted
from ..core.job.schema import LONGEST_NAME
from .numbers import number, numbers
from .options import add_command, folder, write_out

_ONCE = {"densities": "shares", "patterns": "structures"}
"""Options of earlier versions and what they are called now."""

_FILAMENTS_MM = (1.75, 2.85)
"""Diameters that filament is sold in; no nozzle is that wide."""


def add_coupon_commands(commands: Any) -> None:
    """Add `coupons` and `calibrate` to the command line; each sets `body`, which returns lines for the person."""
    _add_coupons(commands)
    _add_calibrate(commands)


def _add_coupons(commands: Any) -> None:
    make = add_command(
        commands,
        "coupons",
        "make printable blocks that tell what a filament does",
        "--material tpu_85a --nozzle 0.4 --out blocks  # the sheet there says how to press them",
        "--shares 15,30 --structures gyroid --out few  # fewer blocks",
    )
    make.add_argument(
        "--material",
        metavar="CARD",
        help="material card or a card file of your own (default: tpu_85a)",
    )
    make.add_argument("--nozzle", metavar="MM", type=number(0.1, 3), help="nozzle diameter (default: 0.4)")
    make.add_argument("--bead", metavar="MM", type=number(0.1, 5), help="bead width (default: 1.125 nozzles)")
    make.add_argument("--layer", metavar="MM", type=number(0.02, 2), help="layer thickness (default: half a nozzle)")
    make.add_argument(
        "--shares",
        metavar="LIST",
        type=numbers(3, 50, percent=True),
        help="fill shares of the blocks, percent (default: 10,15,25)",
    )
    make.add_argument(
        "--structures",
        metavar="LIST",
        help="fill structures, of gyroid, honeycomb, square_grid (default: gyroid,honeycomb)",
    )
    for old, now in _ONCE.items():
        kind = numbers(3, 50, percent=True) if now == "shares" else str
        make.add_argument(f"--{old}", dest=old, type=kind, help=argparse.SUPPRESS)
    make.add_argument(
        "--contours",
        metavar="LIST",
        type=numbers(0, 6, whole=True),
        help="closed beads along the outline (default: 0,2)",
    )
    make.add_argument("--no-solid", action="store_true", help="leave the solid block out")
    make.add_argument(
        "--body-mass",
        metavar="KG",
        type=number(20, 250),
        default=70.0,
        help="of who presses; half of it is the most a block is asked to bear (default: 70)",
    )
    make.add_argument(
        "--bed",
        metavar="LIST",
        type=numbers(20, 5000, count=2),
        default="220,220",
        help="width and depth of the bed, mm (default: 220,220)",
    )
    make.add_argument("--out", metavar="DIR", type=folder, required=True, help="folder for the files")
    make.set_defaults(body=make_coupons)


def _add_calibrate(commands: Any) -> None:
    fit = add_command(
        commands,
        "calibrate",
        "turn what was read on printed blocks into a material card",
        "blocks/readings.csv --out my-tpu.toml  # a job names it: material.card",
        'blocks/readings.csv --name "Red spool" --out red.toml  # say which it is',
    )
    fit.add_argument("readings", metavar="READINGS", help="the filled-in readings.csv")
    fit.add_argument(
        "--coupons", metavar="FILE", help="COUPONS-....run.json of the blocks (default: the one beside READINGS)"
    )
    fit.add_argument(
        "--as-read",
        action="store_true",
        help="take the readings as they are, though they look like a slip; no block is left aside",
    )
    fit.add_argument("--name", metavar="NAME", help="what to call the filament in the card")
    fit.add_argument("--out", metavar="FILE", required=True, help="the card to write; never overwrites one")
    fit.set_defaults(body=calibrate_card)


def make_coupons(args: argparse.Namespace) -> list[str]:
    """Write the blocks into a folder.

    Raises InputError when a wish cannot be met; ExportError when files cannot be written.
    """
    from ..core.job.material_cards import load_material
    from ..core.run.coupons import form_of, pack_coupons
    from ..core.stages.material.coupons.coupons import CouponWish
    from ..core.stages.packing.bundle import run_document, write_bundle

    notes = []
    for old, now in _ONCE.items():
        if getattr(args, old) is not None:
            setattr(args, now, getattr(args, old))
            notes.append(f"Read under its old name: --{old}; it is --{now} now.")
    if args.nozzle in _FILAMENTS_MM:
        raise InputError(
            f"--nozzle {args.nozzle:g} is the diameter of filament; a nozzle is narrower.",
            hint="Write the number on the nozzle, most often 0.4.",
        )
    structures = None if args.structures is None else tuple(each.strip() for each in args.structures.split(","))
    asked: dict[str, Any] = {
        "structures": structures,
        "solid_shares_pct": None if args.shares is None else tuple(args.shares),
        "contours": None if args.contours is None else tuple(int(count) for count in args.contours),
        "nozzle_mm": args.nozzle,
        "bead_width_mm": args.bead,
        "layer_thickness_mm": args.layer,
    }
    asked = {name: value for name, value in asked.items() if value is not None}
    wish = CouponWish(
        **asked,
        has_solid=not args.no_solid,
        body_mass_kg=args.body_mass,
        bed_mm=(args.bed[0], args.bed[1]),
        stated=frozenset(asked) | ({"material"} if args.material else frozenset()),
    )
    packed = pack_coupons(load_material(args.material or "tpu_85a"), wish)
    commit = f"{packed.number}.run.json"
    out = Path(args.out)
    bundle = write_bundle(
        out, {**packed.files, commit: run_document(packed.evidence, packed.files)}, commit_name=commit
    )
    name, form = form_of(packed)
    lines = [
        f"Block {block.coupon.number}: {block.coupon.words}, {block.coupon.edge_mm:g} mm, {block.loads_kg[-1]:g} kg at "
        f"most, a tenth of its height at {block.tenth_load_kg.value:.0f} kg ({block.tenth_load_kg.low:.0f} to "
        f"{block.tenth_load_kg.high:.0f})"
        for block in packed.plan.blocks
    ]
    lines += [f"note: {note}" for note in (*notes, *packed.plan.notes, *bundle.notes)]
    try:
        write_new(bundle.folder / name, form)
    except FileExistsError:
        lines.append(f"note: {name} is there already and is left as it is.")
    sheet = f"{packed.number}.sheet.txt"
    lines.append(f"Written to {bundle.folder}: {', '.join(bundle.names)}, {name}. How to press them: {sheet}.")
    return lines


def calibrate_card(args: argparse.Namespace) -> list[str]:
    """Fit the material and write its card.

    Raises InputError when the readings or the record of the blocks cannot be used, or the card is there already;
    SolveError when the fit does not settle.
    """
    from ..core.job.material_cards import UNKNOWNS, Calibration, write_material
    from ..core.run.coupons import read_record
    from ..core.stages.material.coupons.calibrate import calibrate
    from ..core.stages.material.coupons.calibrate_checks import refuse_misfit, refuse_unmoved
    from ..core.stages.material.coupons.coupon_weights import right_weight, weighed
    from ..core.stages.material.coupons.reading_doubts import ask_for_slips
    from ..core.stages.material.coupons.readings import MOST_READINGS_BYTES, read_readings
    from ..core.stages.material.material_model import model_from_card
    from ..core.stages.packing.sidecar import run_time_utc

    path, out = Path(args.readings), Path(args.out)
    if out.exists():
        raise InputError(f'"{out}" is there already and is left as it is.', hint="Give another --out.")
    data = read_named(path, "The table of readings", most_bytes=MOST_READINGS_BYTES)
    record = Path(args.coupons) if args.coupons else _record_beside(path)
    number, card, coupons = read_record(
        read_named(record, "The record of the blocks", most_bytes=MOST_TABLE_BYTES), record.name
    )
    readings = read_readings(data, path.name, coupons)
    refuse_unmoved(coupons, readings)
    sized = right_weight(coupons, readings.mass_g, card.density_g_cm3)
    coupons, heavier = weighed(coupons, readings.mass_g, card.density_g_cm3)
    prior = model_from_card(card)
    if not args.as_read:
        ask_for_slips(coupons, readings, prior)
    fit = calibrate(coupons, readings, prior, is_trusted=args.as_read, sized=sized)
    refuse_misfit(readings, fit)
    digest = hashlib.sha256(data).hexdigest()[:16]
    found = Calibration(
        date=run_time_utc()[:10],
        made_from=f"{len(fit.blocks)} blocks of {number}; {path.name}, sha256 {digest}",
        readings=fit.used,
        misfit=round(fit.misfit, 4),
        names=UNKNOWNS,
        unknowns=tuple(float(value) for value in fit.model.unknowns),
        covariance=tuple(float(value) for value in fit.model.covariance.ravel()),
        doubts=fit.notes[: len(fit.suspicions)],
    )
    if args.name and (len(args.name) > LONGEST_NAME or not args.name.isprintable()):
        raise InputError(f"--name has {len(args.name)} characters; one line of up to {LONGEST_NAME} is taken.")
    named = args.name or (card.name if card.calibration else f"{card.name}, calibrated"[:200])
    new = replace(card, id=_slug(out.stem, card.id), name=named, calibration=found)
    write_out(out, write_material(new).encode())
    notes = [f"note: {note}" for note in heavier]
    return [*_report(fit), *notes, f'Wrote {out}. In a job: [material] card = "{out.name}"']


def _report(fit: Any) -> list[str]:
    count = len(fit.suspicions)
    doubts = f" {counted(count, 'thing does', 'things do')} not fit: see the notes below." if count else ""
    lines = [
        f"{fit.used} readings on {len(fit.blocks)} blocks; what is left is {fit.misfit:.1f} times the reading error "
        f"(about 1 when all is well).{doubts}",
        f"Modulus of the solid: {_range(fit.solid_before, 1000.0, 'MPa')} before, "
        f"{_range(fit.solid_after, 1000.0, 'MPa')} now.",
        "Stiffness at 10 % strain, low to high, before -> now:",
    ]
    for block in fit.blocks:
        lines.append(
            f"  block {block.coupon.number} ({block.coupon.words}): {_range(block.before, 1.0, 'kPa')} -> "
            f"{_range(block.after, 1.0, 'kPa')}; this print {round(100 * (block.own_factor - 1)):+d} %, "
            f"{block.readings} readings"
        )
    return lines + [f"note: {note}" for note in fit.notes]


def _range(value: Any, unit: float, name: str) -> str:
    said = [each / unit for each in (value.value, value.low, value.high)]
    middle, low, high = (f"{each:.0f}" if each >= 100.0 else f"{each:.3g}" for each in said)
    return f"{middle} ({low} to {high}) {name}"


def _record_beside(path: Path) -> Path:
    found = sorted(path.parent.glob("COUPONS-*.run.json"))
    if len(found) != 1:
        raise InputError(
            f'Beside "{path.name}" there are {len(found)} run documents of blocks; it takes one.',
            hint="Name it with --coupons.",
        )
    return found[0]


def _slug(stem: str, other: str) -> str:
    import re

    text = re.sub(r"[^A-Za-z0-9._-]", "_", stem)[:40]
    return text if re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9._-]*[A-Za-z0-9_-]", text) else other
