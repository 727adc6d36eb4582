"""Weights from a file: whatever is in it, either good numbers come out or one clear word."""

from __future__ import annotations

import io
import pickle
import zipfile

import numpy as np
import pytest

from padwright.core.base.errors import InputError
from padwright.core.stages.zones.weights_file import read_weights

PLACES = np.arange(12.0).reshape(4, 3)
WEIGHTS = np.array([0.0, 0.25, 0.5, 1.0])


def npz(**arrays: np.ndarray) -> bytes:
    file = io.BytesIO()
    np.savez_compressed(file, **arrays)
    return file.getvalue()


def archive(**members: bytes) -> bytes:
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as made:
        for name, content in members.items():
            made.writestr(f"{name}.npy", content)
    return file.getvalue()


def npy(values: np.ndarray) -> bytes:
    file = io.BytesIO()
    np.save(file, values)
    return file.getvalue()


GOOD = npz(positions=PLACES, weights=WEIGHTS)


@pytest.mark.parametrize("kind", [float, np.float32, np.float16])
@pytest.mark.parametrize("order", ["C", "F"])
def test_what_was_saved_comes_back(kind, order):
    positions, weights = read_weights(
        npz(positions=np.asarray(PLACES, kind, order=order), weights=WEIGHTS.astype(kind)), "paint.npz"
    )
    assert np.array_equal(positions, PLACES) and np.array_equal(weights, WEIGHTS)
    text = "x,y,z,weight\n" + "\n".join(f"{x},{y},{z},{w}" for (x, y, z), w in zip(PLACES, WEIGHTS, strict=True))
    assert np.array_equal(read_weights(text.encode(), "paint.csv")[0], PLACES)


def head(shape: str, descr: str = "<f8") -> bytes:
    text = f"{{'descr': '{descr}', 'fortran_order': False, 'shape': {shape}, }}".ljust(117) + "\n"
    return b"\x93NUMPY\x01\x00" + len(text).to_bytes(2, "little") + text.encode()


BAD = {
    "cut": (GOOD[:200], "damaged archive"),
    "cut in the middle of the packed bytes": (GOOD[:80] + GOOD[120:], "damaged archive"),
    "an object array": (npz(positions=PLACES, weights=np.array([object()] * 4, dtype=object)), "no plain numbers"),
    "a pickle": (archive(positions=pickle.dumps(PLACES), weights=npy(WEIGHTS)), "damaged archive"),
    "text as numbers": (npz(positions=PLACES, weights=np.array(["a", "b", "c", "d"])), "no plain numbers"),
    "too few weights": (npz(positions=PLACES, weights=WEIGHTS[:3]), r"shape \(4, 3\) and weights of shape \(3,\)"),
    "flat positions": (npz(positions=PLACES.ravel(), weights=WEIGHTS), "of shape"),
    "one number": (npz(positions=np.float64(1.0), weights=WEIGHTS), "of shape"),
    "no rows": (npz(positions=PLACES[:0], weights=WEIGHTS[:0]), "has no weights"),
    "no array of that name": (npz(points=PLACES, weights=WEIGHTS), 'no array "positions"'),
    "not finite": (npz(positions=PLACES, weights=np.array([0, np.nan, np.inf, 1])), "2 rows are not finite"),
    "a place that is not finite": (npz(positions=np.full((4, 3), np.inf), weights=WEIGHTS), "first row 1"),
    "a bomb of zeros": (archive(positions=npy(np.zeros((8_000_000, 3))), weights=npy(WEIGHTS)), "unpacks to 192 MB"),
    "a head that states 8 TB": (archive(positions=head("(333333333333, 3)"), weights=npy(WEIGHTS)), "states 99999"),
    "a head that states less than nothing": (archive(positions=head("(-4, 3)"), weights=npy(WEIGHTS)), "states -12"),
    "a head that is code": (archive(positions=head("(__import__('os'), 3)"), weights=npy(WEIGHTS)), "damaged archive"),
    "CSV with nan": (b"x,y,z,weight\n1,2,3,nan\n", "1 row is not finite"),
    "CSV without rows": (b"x,y,z,weight\n", "has no weights"),
    "nothing": (b"", "expected the head"),
}


@pytest.mark.parametrize("what", BAD)
def test_what_is_wrong_is_told(what):
    data, says = BAD[what]
    with pytest.raises(InputError, match=says) as caught:
        read_weights(data, "paint.npz")
    assert '"paint.npz"' in caught.value.message


def test_every_cut_and_every_changed_byte_is_read_or_refused():
    dice = np.random.default_rng(7)
    for _ in range(400):
        data = bytearray(GOOD[: dice.integers(1, len(GOOD) + 1)])
        for at in dice.integers(0, len(data), dice.integers(0, 4)):
            data[at] = dice.integers(0, 256)
        try:
            positions, weights = read_weights(bytes(data), "paint.npz")
        except InputError:
            continue
        assert positions.shape == (len(weights), 3) and np.isfinite(positions).all() and np.isfinite(weights).all()


@pytest.mark.parametrize("sign", [",", ";", "\t", ", ", " ; "])
@pytest.mark.parametrize("point", [".", ","])
def test_a_row_is_read_whatever_parts_its_cells(sign, point):
    if point == "," and sign.strip(" ") == ",":
        return  # nobody can tell these apart
    head = sign.join(("x", "y", "z", "weight"))
    line = sign.join(each.replace(".", point) for each in ("1.5", "-2.0", "3.25", "0.75"))
    places, weights = read_weights(f"{head}\n{line}\n".encode(), "w.csv")
    assert places.tolist() == [[1.5, -2.0, 3.25]] and weights.tolist() == [0.75]


def test_a_missing_head_is_told_with_what_stands_there():
    with pytest.raises(InputError, match=r'line 1: expected the head x,y,z,weight; got "1;2;3;0,5"'):
        read_weights(b"1;2;3;0,5\n", "w.csv")
