"""Whether a file is whole, looked at before anything decodes it: decoders fill what is missing and say nothing."""

from typing import Final

from filmhand.artwork.hole import Bytes
from filmhand.artwork.model import Kind
from filmhand.artwork.svg_text import fault_of_svg
from filmhand.artwork.whole_avif import fault_of_avif
from filmhand.artwork.whole_bmp import fault_of_bmp
from filmhand.artwork.whole_gif import fault_of_gif
from filmhand.artwork.whole_jpeg import fault_of_jpeg
from filmhand.artwork.whole_pdf import fault_of_pdf
from filmhand.artwork.whole_png import fault_of_png
from filmhand.artwork.whole_psd import fault_of_psd
from filmhand.artwork.whole_tiff import fault_of_tiff
from filmhand.artwork.whole_webp import fault_of_webp
from filmhand.words import Phrase

_FAULT_OF: Final = {
    Kind.PNG: fault_of_png,
    Kind.JPEG: fault_of_jpeg,
    Kind.TIFF: fault_of_tiff,
    Kind.WEBP: fault_of_webp,
    Kind.PDF: fault_of_pdf,
    Kind.PSD: fault_of_psd,
    Kind.SVG: fault_of_svg,
    Kind.AVIF: fault_of_avif,
    Kind.GIF: fault_of_gif,
    Kind.BMP: fault_of_bmp,
}


def fault_of(data: Bytes, kind: Kind) -> Phrase | None:
    """What is missing or broken in a file of this kind, as a clause for `refusal.damaged`; None if it is whole."""
    return _FAULT_OF[kind](data)
