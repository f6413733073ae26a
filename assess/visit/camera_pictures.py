"""Pictures written again: opened by their content, upright, small, without the camera's notes.

Pillow is optional for the report, so it is imported where a picture is opened.
"""

from __future__ import annotations

import io
import warnings
from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from PIL.Image import Image

UNREADABLE = "cannot be read as a picture; save it as JPEG or PNG"


class PictureError(ValueError):
    """It cannot be taken as a picture; the message says why."""


def upright(
    data: bytes, longest: int, most_pixels: int, kinds: Sequence[str] | None = None
) -> Image:
    """A picture of bare pixels, as it was held.

    Args:
        data: the file. Its content decides what it is, not its name.
        longest: pixels of the longer side at the most.
        most_pixels: larger pictures are refused, since they would be unpacked whole.
        kinds: names of the formats that are read; None for all.

    Raises:
        PictureError: it is no picture, or too large to unpack.
        ImportError: Pillow is not installed.
    """
    from PIL import Image, ImageOps

    Image.init()
    readable = None if kinds is None else [kind for kind in kinds if kind in Image.OPEN]
    try:
        with warnings.catch_warnings():
            # The limit that matters is the one below.
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            with Image.open(io.BytesIO(data), formats=readable) as opened:
                if opened.width * opened.height > most_pixels:
                    raise _too_many(most_pixels)
                # A JPEG is unpacked at a fraction of its size, as small as still is enough.
                opened.draft("RGB", (longest, longest))
                opened.thumbnail((longest, longest))
                return _bare(ImageOps.exif_transpose(opened))
    except Image.DecompressionBombError:
        raise _too_many(most_pixels) from None
    except PictureError:
        raise
    except (OSError, ValueError, SyntaxError, EOFError) as error:
        raise PictureError(UNREADABLE) from error


def as_jpeg(picture: Image, quality: int) -> bytes:
    """A picture as a JPEG file."""
    written = io.BytesIO()
    picture.save(written, "JPEG", quality=quality, optimize=True)
    return written.getvalue()


def _too_many(most_pixels: int) -> PictureError:
    return PictureError(f"has more than {most_pixels // 1_000_000} million pixels; take it smaller")


def _bare(picture: Image) -> Image:
    """The pixels alone, on white where they are transparent."""
    from PIL import Image

    bare = Image.new("RGB", picture.size, "white")
    if picture.has_transparency_data:
        layers = picture.convert("RGBA")
        bare.paste(layers, mask=layers)
    else:
        bare.paste(picture.convert("RGB"))
    return bare
