"""Pictures that lie on scans: the only door to the library that reads them."""

from __future__ import annotations

import io
import warnings

import numpy as np
from numpy.typing import NDArray

from ...base.errors import ScanError

FORMATS = ("PNG", "JPEG", "WEBP", "BMP", "TIFF")
_MOST_PIXELS = 300_000_000
"""Room for 16,384 x 16,384 pixels, the largest texture that scan programs write; 0.9 GB unpacked. A choice of ours."""
_STARTS = {
    b"\xabKTX": "KTX (compressed for graphics cards)",
    b"DDS ": "DDS (compressed for graphics cards)",
    b"sB": "Basis (compressed for graphics cards)",
    b"\x76\x2f\x31\x01": "OpenEXR",
    b"GIF8": "GIF",
    b"<": "text (SVG or a web page)",
}
_HINT = "Save the scan with its texture as PNG or JPEG."


def read_picture(data: bytes, name: str) -> NDArray[np.uint8]:
    """Return the pixels of a picture file, (rows, columns, 3), 0 to 255 in sRGB; gray and palettes are made colors.

    Raises ScanError when it is no picture of a format that is read, is cut off, or has more than 300 million pixels,
    which is seen before it is unpacked.
    """
    from PIL import Image, UnidentifiedImageError

    kind = next((words for start, words in _STARTS.items() if data.startswith(start)), "")
    if kind or not data:
        raise ScanError(f'The picture "{name}" is {kind or "empty"}; {", ".join(FORMATS)} are read.', hint=_HINT)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)  # the size is checked below
            with Image.open(io.BytesIO(data), formats=FORMATS) as picture:
                width, height = picture.size
                if width * height > _MOST_PIXELS:
                    raise _too_large(name, f"{width} x {height} pixels")
                return _as_bytes(picture)
    except UnidentifiedImageError:
        shown = data[:8].hex(" ")
        raise ScanError(
            f'The picture "{name}" is of no format that is read ({", ".join(FORMATS)}); it begins with {shown}.',
            hint=_HINT,
        ) from None
    except Image.DecompressionBombError:
        raise _too_large(name, "more pixels than are unpacked safely") from None
    except (OSError, ValueError, SyntaxError, EOFError, MemoryError) as error:  # what the library says of damaged bytes
        words = str(error).rstrip(".") or type(error).__name__
        raise ScanError(
            f'The picture "{name}" is damaged or cut off ({words}).', hint="Save or copy it again."
        ) from None


def _too_large(name: str, what: str) -> ScanError:
    return ScanError(
        f'The picture "{name}" has {what}.', hint="Save the scan's texture with 8192 x 8192 pixels or less."
    )


def _as_bytes(picture: object) -> NDArray[np.uint8]:
    from PIL import Image

    assert isinstance(picture, Image.Image)
    if picture.mode.startswith("I;16") or picture.mode == "I":  # 16 bits a pixel, which a plain change would clip
        gray = np.asarray(picture).astype(np.float64) / 257.0
        return np.repeat(np.clip(np.rint(gray), 0, 255).astype(np.uint8)[..., None], 3, axis=2)
    return np.asarray(picture.convert("RGB"), dtype=np.uint8)
