"""Pictures that lie on scans, flat scans of foil or paper, letters: the only door to the library of pictures."""

from __future__ import annotations

import io
import math
import warnings
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ...base.errors import ScanError
from ...base.mesh import Bool

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


_FLAT_HINT = "Save it as PNG, JPEG or TIFF, at most 300 million pixels."
_MARKS = (b"\x89PNG", b"\xff\xd8\xff", b"II*\x00", b"MM\x00*")
_ORIENTATION, _EXPOSURE, _FOCAL_LENGTH, _CAMERA_TABLE = 0x0112, 0x829A, 0x920A, 0x8769
"""Tags of TIFF 6.0 and of Exif 2.3 (CIPA DC-008-2012): which way up, and what a camera alone writes."""
_MOST_DPI = 20_000.0


@dataclass(frozen=True, eq=False)
class FlatPicture:
    """A picture by itself, the right way up, as picture programs show it."""

    pixels: NDArray[np.uint8]  # (rows, columns, 3), sRGB; what is transparent is white
    dpi: tuple[float, float] | None  # pixels in an inch that the file states: across, down
    is_photo: bool  # a camera's: it states how long it was exposed, or its lens


def is_picture(data: bytes) -> bool:
    """Say if a file begins as a picture does: PNG, JPEG, TIFF or WebP."""
    return data.startswith(_MARKS) or (data.startswith(b"RIFF") and data[8:12] == b"WEBP")


def read_picture(data: bytes, name: str) -> NDArray[np.uint8]:
    """Return the pixels of a picture file, (rows, columns, 3), 0 to 255 in sRGB; gray and palettes are made colors.

    Raises ScanError when it is no picture of a format that is read, is cut off, or has more than 300 million pixels,
    which is seen before it is unpacked.
    """
    return _read(data, name).pixels


def read_flat_picture(data: bytes, name: str) -> FlatPicture:
    """Return a picture with what its file states of its size; a camera's is turned as it was held.

    Raises ScanError as `read_picture`.
    """
    return _read(data, name, is_flat=True)


def _read(data: bytes, name: str, *, is_flat: bool = False) -> FlatPicture:
    from PIL import Image, UnidentifiedImageError

    kind = next((words for start, words in _STARTS.items() if data.startswith(start)), "")
    kind = "HEIC or AVIF, as phones save photos" if data[4:8] == b"ftyp" else kind
    hint = _FLAT_HINT if is_flat else _HINT
    if kind or not data:
        raise ScanError(f'The picture "{name}" is {kind or "empty"}; {", ".join(FORMATS)} are read.', hint=hint)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)  # the size is checked below
            with Image.open(io.BytesIO(data), formats=FORMATS) as picture:
                width, height = picture.size
                if width * height > _MOST_PIXELS:
                    raise _too_large(name, f"{width} x {height} pixels", is_flat)
                return _flat(picture) if is_flat else FlatPicture(_as_bytes(picture), None, False)
    except UnidentifiedImageError:
        shown = data[:8].hex(" ")
        raise ScanError(
            f'The picture "{name}" is of no format that is read ({", ".join(FORMATS)}); it begins with {shown}.',
            hint=hint,
        ) from None
    except Image.DecompressionBombError:
        raise _too_large(name, "more pixels than are unpacked safely", is_flat) from None
    except (OSError, ValueError, SyntaxError, EOFError, MemoryError) as error:  # what the library says of damaged bytes
        words = str(error).rstrip(".") or type(error).__name__
        raise ScanError(
            f'The picture "{name}" is damaged or cut off ({words}).', hint="Save or copy it again."
        ) from None


def _too_large(name: str, what: str, is_flat: bool) -> ScanError:
    hint = _FLAT_HINT if is_flat else "Save the scan's texture with 8192 x 8192 pixels or less."
    return ScanError(f'The picture "{name}" has {what}.', hint=hint)


def _as_bytes(picture: object) -> NDArray[np.uint8]:
    from PIL import Image

    assert isinstance(picture, Image.Image)
    if picture.mode.startswith("I;16") or picture.mode == "I":  # 16 bits a pixel, which a plain change would clip
        gray = np.asarray(picture).astype(np.float64) / 257.0
        return np.repeat(np.clip(np.rint(gray), 0, 255).astype(np.uint8)[..., None], 3, axis=2)
    return np.asarray(picture.convert("RGB"), dtype=np.uint8)


def _flat(picture: object) -> FlatPicture:
    from PIL import Image, ImageOps

    assert isinstance(picture, Image.Image)
    exif = picture.getexif()
    camera = exif.get_ifd(_CAMERA_TABLE)
    stated = picture.info.get("dpi")
    dpi = None
    if stated is not None:
        across, down = (float(each) for each in stated)
        if math.isfinite(across + down) and 1.0 < min(across, down) <= max(across, down) <= _MOST_DPI:
            dpi = (down, across) if exif.get(_ORIENTATION, 1) >= 5 else (across, down)  # held sideways
    upright = ImageOps.exif_transpose(picture)
    if upright.mode in ("LA", "PA", "RGBA", "La", "RGBa") or "transparency" in upright.info:
        clear = upright.convert("RGBA")
        upright = Image.alpha_composite(Image.new("RGBA", clear.size, (255, 255, 255, 255)), clear)
    return FlatPicture(_as_bytes(upright), dpi, _EXPOSURE in camera or _FOCAL_LENGTH in camera)


def text_pixels(text: str, size_px: int = 15) -> Bool:
    """Return which pixels a line of text inks, (h, w), in the font that pillow brings, so many pixels high."""
    from PIL import Image, ImageDraw, ImageFont

    font = ImageFont.load_default(size_px)
    # Without smoothing letters run wider than the font says they do.
    image = Image.new("1", (2 * size_px + round(1.5 * font.getlength(text)), 3 * size_px))
    ImageDraw.Draw(image).text((size_px, size_px), text, fill=1, font=font)
    return np.array(image.crop(image.getbbox()), dtype=bool)
