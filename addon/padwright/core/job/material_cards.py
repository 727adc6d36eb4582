"""Material cards: what is known of a filament, generic or from the person's own printed blocks."""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path as FilePath
from typing import Any

import numpy as np

from ..base.errors import InputError
from ..base.files import read_named
from ..base.resources import shared_path
from .keys import key, keys_of
from .schema import LONGEST_NAME, Material
from .toml_lines import Path, parse_toml
from .toml_tables import TableReader
from .toml_values import toml_value

_MOST_BYTES = 1_000_000
"""Largest material card that is read; one with a calibration has 3 kB."""

UNKNOWNS = ("modulus", "fill", "knee", "wrinkle")
"""What the four numbers of a calibration stand for, in this order; `material.material_model` says what they are."""

FOLD_UNKNOWNS = ("modulus", "width", "slope", "law", "softening", "bend")
"""The same of a calibration on folded walls; `material.folds.fold_print` says what they are."""


@dataclass(frozen=True)
class Calibration:
    """What pressing printed blocks told about a filament.

    Its unknowns are those of `UNKNOWNS`, factors on the card's modulus, the fill's stiffness, the strain at which it
    gives way and the strain at which contours wrinkle; a misfit (root mean square) of about 1 says that all is well.
    """

    date: str = key("text", "day of the fit", count=(1, 1))
    made_from: str = key("text", "which blocks and readings", count=(1, 1))
    readings: int = key("integer", "how many were used", low=1, high=100_000)
    misfit: float = key("number", "what is left, in units of the readings' error", low=0, high=1e6)
    names: tuple[str, ...] = key("texts", "of the unknowns", choices=UNKNOWNS, count=(4, 4))
    unknowns: tuple[float, ...] = key("numbers", "natural logarithms of factors", count=(4, 4), low=-20, high=20)
    covariance: tuple[float, ...] = key("numbers", "of the unknowns, row by row", count=(16, 16))
    doubts: tuple[str, ...] = key("texts", "what the blocks contradict, in words", default=(), count=(0, 20), high=2000)


@dataclass(frozen=True)
class FoldCalibration:
    """What pressing blocks of folded walls told about a filament on the printer they were printed with.

    Its unknowns are those of `FOLD_UNKNOWNS`: logarithms of factors on the card's modulus, on the walls' width, on the
    law's stress, on the strain at which the solid has softened by half, and on the stress for each 10 degrees of slope
    more than 35; of the slope, degrees more than asked.
    """

    date: str = key("text", "day of the fit", count=(1, 1))
    made_from: str = key("text", "which blocks and readings", count=(1, 1))
    readings: int = key("integer", "how many were used", low=1, high=100_000)
    misfit: float = key("number", "what is left, in units of the readings' error", low=0, high=1e6)
    slopes_deg: tuple[float, ...] = key("numbers", "least and most slope of the blocks", count=(2, 2), low=0, high=80)
    widths_mm: tuple[float, ...] = key("numbers", "least and most wall of the blocks", count=(2, 2), low=0, high=100)
    most_strain: float = key("number", "up to which all blocks were pressed", low=0, high=1)
    names: tuple[str, ...] = key("texts", "of the unknowns", choices=FOLD_UNKNOWNS, count=(6, 6))
    unknowns: tuple[float, ...] = key("numbers", "logarithms of factors, degrees", count=(6, 6), low=-20, high=20)
    covariance: tuple[float, ...] = key("numbers", "of the unknowns, row by row", count=(36, 36))
    doubts: tuple[str, ...] = key("texts", "what the blocks contradict, in words", default=(), count=(0, 20), high=2000)


@dataclass(frozen=True)
class MaterialCard:
    """A filament, generic or the person's own.

    Hardness is as the trade says it, "85A" (Shore A) or "45D" (Shore D). The modulus, MPa, is that of the solid at
    small strain; from hardness it is good to about +/- 50 %.
    """

    schema: int = key("integer", "", low=1, high=1)
    id: str = key("slug", "")
    name: str = key("text", "", count=(1, 1), high=LONGEST_NAME)
    symbol: str = key("text", "class of material", count=(1, 1), high=40)
    hardness: str = key("text", "", count=(1, 1))
    modulus_mpa: float = key("number", "", low=0.01, high=5000)
    modulus_spread: float = key("number", "plus or minus, share of the value", low=0, high=1)
    modulus_source: str = key("text", "", count=(1, 1))
    poisson: float = key("number", "", low=0, high=0.4999)
    poisson_source: str = key("text", "", count=(1, 1))
    density_g_cm3: float = key("number", "", low=0.1, high=5)
    density_source: str = key("text", "", count=(1, 1))
    max_volume_flow_mm3_s: float = key("number", "", low=0.1, high=200)
    max_volume_flow_source: str = key("text", "", count=(1, 1))
    nozzle_temperature_degc: float | None = key("number", "", low=0, high=500, default=None)
    bed_temperature_degc: float | None = key("number", "", low=0, high=200, default=None)
    temperature_source: str = key("text", "", default="")
    drying_temperature_degc: float | None = key("number", "", low=20, high=200, default=None)
    drying_hours: float | None = key("number", "", low=0, above=True, high=100, default=None)
    drying_source: str = key("text", "", default="")
    calibration: Calibration | None = key("table", "from printed blocks", table=Calibration, default=None)  # noqa: RUF009
    fold_calibration: FoldCalibration | None = key(  # noqa: RUF009
        "table", "from printed blocks of folded walls", table=FoldCalibration, default=None
    )

    def pressed(self, fill_kind: str) -> Calibration | FoldCalibration | None:
        """Return what blocks of a kind of fill (`fill.kind`) told; None where none were pressed."""
        return self.fold_calibration if fill_kind == "folds" else self.calibration


def is_shared_material(card: str) -> bool:
    """Say if a material card of that name ships with the tool."""
    return card in material_names()


def material_names() -> list[str]:
    """Return the names of the material cards that ship."""
    return sorted(file.stem for file in shared_path("materials").glob("*.toml"))


def load_material(card: str, folder: FilePath | None = None) -> MaterialCard:
    """Return a material card by name, or from a file of the person's own.

    Raises InputError when there is none, or a key in it is wrong.
    """
    file = shared_path("materials") / f"{card}.toml" if is_shared_material(card) else (folder or FilePath()) / card
    if not file.exists():
        raise InputError(
            f'Material card "{card}" is not there.',
            hint=_near_card(card) + "Use a card file or one of " + ", ".join(material_names()) + ".",
        )
    content = read_named(file, "The material card", most_bytes=_MOST_BYTES)
    data, lines = parse_toml(content, file.name)
    return read_material(data, lines, file.name)


def _near_card(card: str) -> str:
    """Return a question for the card that a name was likely meant for: "TPU 85A" is tpu_85a; "" where none is near."""
    bare = {name.replace("_", ""): name for name in material_names()}
    near = difflib.get_close_matches(re.sub(r"[^a-z0-9]", "", card.lower()), bare, 1, 0.8)
    return f'Did you mean "{bare[near[0]]}"? ' if near else ""


def read_material(data: dict[str, Any], lines: Mapping[Path, int], name: str) -> MaterialCard:
    """Return a material card from its tables.

    Raises InputError when a key is unknown, missing or wrong, or the covariance of a calibration is none.
    """
    reader = TableReader(name, lines, MaterialCard)
    card: MaterialCard | None = reader.read(MaterialCard, data)
    if card is not None:
        _check_fit(reader, "calibration", card.calibration, UNKNOWNS)
        _check_fit(reader, "fold_calibration", card.fold_calibration, FOLD_UNKNOWNS)
    return reader.finish(card)


def _check_fit(
    reader: TableReader, table: str, found: Calibration | FoldCalibration | None, unknowns: tuple[str, ...]
) -> None:
    if found is None:
        return
    if found.names != unknowns:
        reader.fault((table, "names"), "expected " + ", ".join(unknowns) + ", in this order.")
    covariance = np.reshape(found.covariance, (len(unknowns), len(unknowns)))
    is_even = np.allclose(covariance, covariance.T, rtol=1e-9, atol=1e-15)
    if not is_even or float(np.linalg.eigvalsh(covariance).min()) < -1e-12:
        reader.fault((table, "covariance"), "this is no covariance: uneven, or negative in a direction.")


def write_material(card: MaterialCard) -> str:
    """Return a material card as TOML that reads back equal."""
    lines = [
        "# Material card of your own, calibrated on printed blocks."
        if card.calibration or card.fold_calibration
        else "# Material card."
    ]
    for name, (field_name, described, _) in keys_of(MaterialCard).items():
        value = getattr(card, field_name)
        if described.kind != "table" and value is not None and value != "":
            lines.append(f"{name} = {toml_value(value)}")
    for table in ("calibration", "fold_calibration"):
        found = getattr(card, table)
        if found is not None:
            told = {name: getattr(found, name) for name in keys_of(type(found))}
            lines += [
                "",
                f"[{table}]",
                *(f"{name} = {toml_value(value)}" for name, value in told.items() if value != ()),
            ]
    return "\n".join(lines) + "\n"


def material_of(given: Material, folder: FilePath | None = None) -> MaterialCard:
    """Return the material card of a job, with what the person knows better than the card.

    Raises InputError when there is no such card, or a key in it is wrong.
    """
    card = load_material(given.card, folder)
    known = "stated in the job"
    if given.density_g_cm3 is not None:
        card = replace(card, density_g_cm3=given.density_g_cm3, density_source=known)
    if given.max_volume_flow_mm3_s is not None:
        card = replace(card, max_volume_flow_mm3_s=given.max_volume_flow_mm3_s, max_volume_flow_source=known)
    return card
