"""What must hold of any load check and of any evidence of one, whatever the job."""

from __future__ import annotations

from typing import Any

import numpy as np

from padwright.core.base.estimate import Estimate
from padwright.core.stages.load.contact import LoadResult
from padwright.core.stages.load.load_case import ContactPatch

EXACT = 1e-9
"""Relative: numbers that are one by definition but are summed in another order."""


def ordered(*values: Estimate) -> None:
    """Each lies between its bounds, to the last digit."""
    for each in values:
        assert np.isfinite([each.low, each.value, each.high]).all()
        assert each.low <= each.value <= each.high


def hold_of_load(result: LoadResult, patch: ContactPatch) -> None:
    """Check the invariants of a load check."""
    mean, peak, most = result.mean_pressure_kpa, result.peak_pressure_kpa, result.largest_pressure_kpa
    sinks, margin, area = result.sinkage_mm, result.bottoming_margin, result.contact_area_cm2
    ordered(mean, peak, most, sinks, margin, area, result.evenness, result.tilt_deg, result.least_pad_left_mm)
    for end in ("low", "value", "high"):
        assert 0.0 <= getattr(mean, end) <= getattr(peak, end) <= getattr(most, end)
        assert getattr(margin, end) <= 1.0
        assert getattr(sinks, end) <= patch.thickness_mm.max()
        assert getattr(area, end) <= patch.area_mm2.sum() / 100.0
        assert getattr(result.evenness, end) >= 1.0
    for zone in result.zones:
        ordered(zone.share, zone.mean_pressure_kpa, zone.peak_pressure_kpa, zone.sinkage_mm, zone.bottoming_margin)
        for end in ("low", "value", "high"):
            assert 0.0 <= getattr(zone.share, end) <= 1.0
            assert getattr(zone.mean_pressure_kpa, end) <= getattr(zone.peak_pressure_kpa, end)
            assert getattr(zone.peak_pressure_kpa, end) <= getattr(peak, end)
            assert getattr(zone.sinkage_mm, end) <= getattr(sinks, end)
            assert getattr(zone.bottoming_margin, end) >= getattr(margin, end)
    assert peak.value == max(zone.peak_pressure_kpa.value for zone in result.zones)
    assert sinks.value == max(zone.sinkage_mm.value for zone in result.zones)
    assert margin.value == min(zone.bottoming_margin.value for zone in result.zones)
    assert abs(sum(zone.share.value for zone in result.zones) - 1.0) < EXACT
    carried = mean.value * area.value / 10.0  # kPa times cm2 is 0.1 N
    assert abs(carried - result.force_n) < 1e-6 * result.force_n

    assert (result.compression_mm <= patch.thickness_mm + 1e-12).all()
    if result.flesh_squeezed_mm is None or patch.clay_kpa is None:  # else the flesh bulges into gaps
        assert (result.pressure_kpa[patch.gaps > result.body_motion_mm.value + _reach(result, patch)] == 0.0).all()


def _reach(result: LoadResult, patch: ContactPatch) -> float:
    """Return the most that a turn of the body brings a point nearer, mm."""
    size = float(np.linalg.norm(np.ptp(patch.position, axis=0)))
    return float(np.tan(np.radians(result.tilt_deg.value))) * size + 1e-6


def hold_of_document(document: Any) -> int:
    """Check every number with bounds in a document, and return how many there are."""
    if isinstance(document, dict) and {"value", "low", "high"} <= document.keys():
        assert document["low"] <= document["value"] <= document["high"], document
        return 1
    if isinstance(document, dict):
        if {"peak_pressure_kPa", "mean_pressure_kPa", "zones"} <= document.keys():
            peak, mean = document["peak_pressure_kPa"]["value"], document["mean_pressure_kPa"]["value"]
            assert mean <= peak == max(zone["peak_pressure_kPa"]["value"] for zone in document["zones"])
        children = list(document.values())
    else:
        children = list(document) if isinstance(document, list | tuple) else []
    return sum(hold_of_document(each) for each in children)
