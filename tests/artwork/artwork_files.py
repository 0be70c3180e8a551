"""Files of each format, made in the tests."""

import io
from typing import Any

import pikepdf
import tifffile
from numpy.typing import NDArray
from PIL import Image

from filmhand.artwork.model import Artwork
from filmhand.preflight.finding import Finding


def encoded(picture: Image.Image, form: str, **options: Any) -> bytes:
    """A picture as a file of a format."""
    file = io.BytesIO()
    picture.save(file, form, **options)
    return file.getvalue()


def tiff(values: NDArray[Any], **options: Any) -> bytes:
    """Pixels as a TIFF, as tifffile writes it."""
    file = io.BytesIO()
    tifffile.imwrite(file, values, **options)
    return file.getvalue()


def opened_whole(result: Artwork | Finding) -> Artwork:
    """The artwork that a file must have opened as."""
    assert isinstance(result, Artwork), result
    return result


def drawn_pdf(content: bytes, size: tuple[float, float] = (200, 200), **page: Any) -> bytes:
    """A PDF of one page that draws `content`, with further page entries."""
    document = pikepdf.new()
    document.add_blank_page(page_size=size)
    document.pages[0].Contents = pikepdf.Stream(document, content)
    for key, value in page.items():
        setattr(document.pages[0], key, value)
    return saved_pdf(document)


def saved_pdf(document: pikepdf.Pdf, **options: Any) -> bytes:
    """A PDF as bytes."""
    file = io.BytesIO()
    document.save(file, **options)
    return file.getvalue()
