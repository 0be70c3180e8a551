"""PDFs with fonts, inks, layers and forms, made in the tests; and how a page of one reads."""

import io
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pikepdf
from artwork_files import saved_pdf
from pikepdf import Array, Dictionary, Name

from filmhand.artwork.pdf_page import PageReading, read_page
from filmhand.artwork.pdf_strict import Strict, strictly
from filmhand.preflight.finding import Finding

Fill = Callable[[pikepdf.Pdf], Any]


def page_pdf(content: bytes, resources: Fill | None = None, *, size: tuple[float, float] = (200, 200), **page: Any) -> bytes:
    """A PDF of one page that draws `content`, whose names mean what `resources` makes of the document."""
    document = pikepdf.new()
    document.add_blank_page(page_size=size)
    leaf = document.pages[0]
    leaf.obj.Contents = document.make_stream(content)
    if resources is not None:
        leaf.obj.Resources = resources(document)
    for key, value in page.items():
        leaf.obj[f"/{key}"] = value
    return saved_pdf(document)


def form(document: pikepdf.Pdf, content: bytes, **entries: Any) -> Any:
    """A form XObject; `Resources` and other entries are added to it."""
    return document.make_stream(content, Type=Name.XObject, Subtype=Name.Form, BBox=[0, 0, 200, 200], **entries)


def image(document: pikepdf.Pdf, width: int, height: int, **entries: Any) -> Any:
    """A grey image of so many pixels, of 8 bits unless told otherwise."""
    told = {"ColorSpace": Name.DeviceGray, "BitsPerComponent": 8, **entries}
    channels = 4 if told["ColorSpace"] == Name.DeviceCMYK else 1
    data = bytes(range(256)) * (width * height * channels // 256 + 1)
    row = -(-width * channels * told["BitsPerComponent"] // 8)
    return document.make_stream(data[: row * height], Type=Name.XObject, Subtype=Name.Image, Width=width, Height=height, **told)


def font(document: pikepdf.Pdf, name: str, *, is_held: bool) -> Any:
    """A TrueType font, with or without its letters in the file."""
    descriptor = Dictionary(Type=Name.FontDescriptor, FontName=Name(f"/{name}"), Flags=32)
    if is_held:
        descriptor.FontFile2 = document.make_stream(b"\0\1\0\0")
    entries = Dictionary(Type=Name.Font, Subtype=Name.TrueType, BaseFont=Name(f"/{name}"), FontDescriptor=descriptor)
    return document.make_indirect(entries)


def separation(document: pikepdf.Pdf, name: str) -> Any:
    """A spot colour space whose full tint is CMYK magenta."""
    tint = Dictionary(FunctionType=2, Domain=[0, 1], N=1, C0=[0, 0, 0, 0], C1=[0, 1, 0, 0])
    return Array([Name.Separation, Name(f"/{name}"), Name.DeviceCMYK, tint])


def read(data: bytes, path: Path, page: int = 1) -> PageReading:
    """How a page of these bytes, written to a path, reads."""
    path.write_bytes(data)
    strict = strictly(path, lambda document: read_page(document, page))
    assert isinstance(strict, Strict), strict
    assert isinstance(strict.value, PageReading), strict.value
    return strict.value


def said(findings: tuple[Finding, ...], check: str) -> str:
    """What the findings of a check say, in a row."""
    return " ".join(str(finding.message) for finding in findings if finding.check == check)


def updated(data: bytes, key: bytes, number: int) -> bytes:
    """A PDF with an update appended (ISO 32000-2 section 7.5.6): an object of this number, and a table that leads back."""
    with pikepdf.open(io.BytesIO(data)) as document:
        root = document.Root.objgen[0]
    before = int(data[data.rindex(b"startxref") + 9 :].split()[0])
    place = len(data)
    body = b"%d 0 obj\n<< /Note (%s) >>\nendobj\n" % (number, key)
    table = b"xref\n%d 1\n%010d 00000 n \ntrailer\n<< /Size %d /Root %d 0 R /Prev %d >>\n" % (
        *(number, place, number + 1),
        *(root, before),
    )
    return data + body + table + b"startxref\n%d\n%%%%EOF\n" % (place + len(body))
