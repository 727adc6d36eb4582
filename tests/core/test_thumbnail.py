"""The picture: what is in front hides what is behind, colors follow the levels, and the PNG is one others read."""

from __future__ import annotations

import struct
import zlib
from dataclasses import replace

import numpy as np
import pytest

from padwright.core.base.ramps import FIRMNESS
from padwright.core.geometry.raster import png_bytes
from padwright.core.stages.packing.thumbnail import firmness_color, render, thumbnail_png
from padwright.core.stages.regions.bodies import pack_bodies
from support.packing import block, regions

UP = np.array([0.0, 0.0, -1.0])


def decoded(data: bytes) -> np.ndarray:
    """Return the pixels of a PNG with filter 1 rows, read by hand after the W3C text."""
    assert data[:8] == b"\x89PNG\r\n\x1a\n"
    place, chunks = 8, {}
    while place < len(data):
        size = int.from_bytes(data[place : place + 4], "big")
        kind, body = data[place + 4 : place + 8], data[place + 8 : place + 8 + size]
        assert zlib.crc32(kind + body) == int.from_bytes(data[place + 8 + size : place + 12 + size], "big")
        chunks[kind] = body
        place += 12 + size
    width, height, depth, color = struct.unpack(">2I2B", chunks[b"IHDR"][:10])
    assert (depth, color) == (8, 2)
    rows = np.frombuffer(zlib.decompress(chunks[b"IDAT"]), dtype=np.uint8).reshape(height, 1 + 3 * width)
    assert set(rows[:, 0]) == {1}
    return np.cumsum(rows[:, 1:].reshape(height, width, 3), axis=1, dtype=np.uint8)


def test_a_png_holds_the_pixels_it_was_given():
    pixels = np.random.default_rng(0).integers(0, 256, (37, 53, 3), dtype=np.uint8)
    assert np.array_equal(decoded(png_bytes(pixels)), pixels)


def test_colors_of_levels_are_the_cards_and_steps_lie_between():
    assert [firmness_color(level) for level in (1, 2, 3, 4)] == [each.upper() for each in FIRMNESS]
    assert firmness_color(1.5, ("#000000", "#FFFFFF")) == "#BCBCBC"  # half the light is 188 in sRGB (IEC 61966-2-1)
    brightness = [0.2126 * int(c[1:3], 16) + 0.7152 * int(c[3:5], 16) + 0.0722 * int(c[5:7], 16) for c in FIRMNESS]
    assert brightness == sorted(brightness, reverse=True)


def is_like(pixels: np.ndarray, color: str) -> np.ndarray:
    """Say which pixels have the hue of a color, whatever the light on them."""
    wanted = np.array([int(color[at : at + 2], 16) for at in (1, 3, 5)], dtype=float)
    values = pixels.astype(float)
    return np.abs(values / values.sum(axis=2, keepdims=True) - wanted / wanted.sum()).max(axis=2) < 0.06


@pytest.mark.parametrize("press", [UP, None, np.array([0.6, 0.0, -0.8])])
def test_both_regions_are_seen_in_their_colors_and_the_part_is_in_the_middle(press):
    pixels = render(pack_bodies(regions()), press, colors=["#C02020", "#2030C0"], size=128)
    shown = [is_like(pixels, color) for color in ("#C02020", "#2030C0")]
    assert all(each.sum() > 300 for each in shown)
    rows, columns = np.nonzero(shown[0] | shown[1])
    assert rows.min() > 4
    assert columns.min() > 4
    assert max(rows.max(), columns.max()) < 124


def test_a_part_in_two_pieces_looks_like_the_whole_but_for_a_thin_line():
    whole = pack_bodies([replace(regions()[0], mesh=block((-10, -20, 3), (50, 20, 12), 3))])
    halves = pack_bodies(
        [replace(regions()[0], mesh=block((-10, -20, 3), (30, 20, 12), 3)),
         replace(regions()[1], mesh=block((30, -20, 3), (50, 20, 12), 3))]
    )  # fmt: skip
    one = render(whole, UP, colors=["#86C5A4"], size=128).astype(int)
    two = render(halves, UP, colors=["#86C5A4"] * 2, size=128).astype(int)
    differs = np.abs(one - two).max(axis=2) > 20
    # The border crosses about 40 rows of the picture and is two to three pixels wide; the walls behind it are 360 mm2
    # each and would show as a patch of several hundred.
    assert 40 < differs.sum() < 130


def test_hollows_are_darker_than_the_flat_around_them():
    flat = block((0, 0, 0), (60, 60, 10), 60)
    x, y, z = flat.vertices.T
    dent = 6.0 * np.exp(-((x - 30) ** 2 + (y - 30) ** 2) / (2 * 6.0**2)) * (z > 9)
    hollow = replace(flat, vertices=np.column_stack([x, y, z - dent]))
    pictures = [
        render(pack_bodies([replace(regions()[0], mesh=mesh)]), UP, colors=["#86C5A4"], size=128).astype(int)
        for mesh in (flat, hollow)
    ]
    difference = (pictures[0] - pictures[1]).sum(axis=2)
    middle = difference[52:72, 58:70]
    assert middle.mean() > 10


def test_the_same_part_gives_the_same_picture():
    bodies = pack_bodies(regions())
    assert thumbnail_png(bodies, UP, size=64) == thumbnail_png(bodies, UP, size=64)
