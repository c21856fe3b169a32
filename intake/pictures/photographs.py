"""Photographs that people hand in: only their picture is kept, small and without what else was in the file.

A picture is decoded and encoded anew, so that neither place, device and name (metadata) nor anything
hidden in the file reaches our store. Every figure here bounds time, memory or room.
"""

from __future__ import annotations

import io
import warnings
from dataclasses import dataclass

from django.utils.translation import gettext_lazy as _
from PIL import Image, ImageOps

from intake.errors import EntryProblem

#: The longest file taken, bytes: what a telephone makes of one picture (our choice).
MOST_BYTES = 12 * 1024 * 1024
#: The largest picture decoded, pixels. A small file can unfold to gigabytes, so this is read off its
#: head first. JPEG is decoded at reduced size, the others are not (our choices).
MOST_PIXELS = {"JPEG": 50_000_000, "MPO": 50_000_000, "PNG": 16_000_000, "WEBP": 16_000_000}
#: The longest side and the most bytes of what is kept (our choices): a label can be read on it.
SIDE_PX = 1600
KEPT_BYTES = 300_000
QUALITIES = (80, 70, 60, 45, 30, 15)

_NO_PHOTOGRAPH = _(
    "This file is not a photograph that can be read. Choose a picture saved as JPEG, PNG or "
    "WebP; a telephone set to another kind can send it as JPEG."
)


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture as it is kept: JPEG, its width and height in pixels."""

    content: bytes
    width: int
    height: int


def reencoded(data: bytes) -> Picture:
    """The picture in ``data``, upright, at most ``SIDE_PX`` long and ``KEPT_BYTES`` large.

    Raises ``EntryProblem`` for what is too large or no photograph.
    """
    if len(data) > MOST_BYTES:
        raise _problem(
            _("This file is larger than %(megabytes)s MB. Take the picture smaller.")
            % {"megabytes": MOST_BYTES // 1024**2}
        )
    try:
        with warnings.catch_warnings():
            # Ours are the limits on size.
            warnings.simplefilter("ignore")
            return _kept(data)
    except EntryProblem:
        raise
    except Image.DecompressionBombError:
        raise _problem(_("This picture has too many pixels to be read here. Take it smaller.")) from None
    except (OSError, ValueError, SyntaxError, ArithmeticError, LookupError):
        # Whatever a broken file makes the decoder stumble over.
        raise _problem(_NO_PHOTOGRAPH) from None


def _problem(sentence: object) -> EntryProblem:
    return EntryProblem(sentence, {"picture": sentence})


def _kept(data: bytes) -> Picture:
    with Image.open(io.BytesIO(data), formats=("JPEG", "PNG", "WEBP")) as image:
        most = MOST_PIXELS.get(image.format or "", 0)
        if image.width * image.height > most:
            raise _problem(
                _(
                    "This picture has %(width)s × %(height)s pixels; at most %(most)s million can be read "
                    "here. Take it smaller."
                )
                % {"width": image.width, "height": image.height, "most": most // 1000000}
            )
        image.draft("RGB", (SIDE_PX, SIDE_PX))
        upright = ImageOps.exif_transpose(image)
        upright.thumbnail((SIDE_PX, SIDE_PX))
        plain = Image.new("RGB", upright.size, "white")
        shown = upright.convert("RGBA")
        plain.paste(shown, mask=shown)
    for quality in QUALITIES:
        written = io.BytesIO()
        plain.save(written, "JPEG", quality=quality, optimize=True)
        if written.tell() <= KEPT_BYTES:
            break
    return Picture(written.getvalue(), plain.width, plain.height)
