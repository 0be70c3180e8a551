"""The umpires' badge: a PDF of real vector shapes on a transparent ground, written byte by byte (ISO 32000-2)."""

import zlib
from pathlib import Path

from shapely import affinity
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from filmhand import units
from filmhand.demo import shapes
from filmhand.demo.letters import lettering

WIDTH_MM, HEIGHT_MM = 120.0, 112.0


def draw(path: Path) -> None:
    """Write the badge as a one-page PDF whose page paints no ground."""
    path.write_bytes(_pdf(_content()))


def _badge() -> list[tuple[BaseGeometry, shapes.Colour]]:
    """The badge's flat parts in mm, y down, lowest first. The blades come apart: they carry a gradient."""
    flat = []
    for shaft, _, stripe in _oars():
        flat += [(shaft, shapes.CREAM), (stripe, shapes.RED)]
    stars = [shapes.star(60 + x, y, size) for x, y, size in ((0, 11, 7.0), (-13, 19, 4.0), (13, 19, 4.0))]
    waves = [
        shapes.wave(20 + inset, 100 - inset, y, height=3.2, length=13.33, thickness=2.4) for y, inset in ((74.5, 0), (81, 10))
    ]
    title = _centred(lettering("UMPIRE", height=20, weight=1.5, spacing=1.1))
    return [
        *flat,
        (unary_union(stars), shapes.GOLD),
        (unary_union(waves), (74, 176, 190)),
        (affinity.translate(title, 60, 109), shapes.CREAM),
    ]


def _oars() -> list[tuple[BaseGeometry, BaseGeometry, BaseGeometry]]:
    placed = []
    for turn in (-48, 48):
        parts = [affinity.rotate(affinity.translate(part, 0, 39), turn, origin=(0, 0)) for part in shapes.oar(88)]
        shaft, blade, stripe = (affinity.translate(part, 60, 43) for part in parts)
        placed.append((shaft, blade, stripe))
    return placed


def _content() -> bytes:
    """The page's content stream: mm with y down, set up by one matrix."""
    unit = units.POINTS_PER_INCH / units.MM_PER_INCH
    lines = [f"{unit:.6f} 0 0 {-unit:.6f} 0 {HEIGHT_MM * unit:.3f} cm"]
    for _, blade, _ in _oars():
        lines.append(f"q {_path(blade)} W n /Blade sh Q")
    for shape, (red, green, blue) in _badge():
        lines.append(f"{red / 255:.4f} {green / 255:.4f} {blue / 255:.4f} rg {_path(shape)} f*")
    return "\n".join(lines).encode("ascii")


def _path(shape: BaseGeometry) -> str:
    """An outline as path operators of section 8.5.2."""
    parts = []
    for polygon in getattr(shape, "geoms", [shape]):
        for ring in (polygon.exterior, *polygon.interiors):
            (x, y), *rest = list(ring.coords)[:-1]
            corners = " ".join(f"{px:.3f} {py:.3f} l" for px, py in rest)
            parts.append(f"{x:.3f} {y:.3f} m {corners} h")
    return " ".join(parts)


def _pdf(content: bytes) -> bytes:
    """A whole file: catalogue, page tree, page, content, and the blades' axial shading (section 8.7.4.5.3)."""
    unit = units.POINTS_PER_INCH / units.MM_PER_INCH
    packed = zlib.compress(content)
    objects = [
        b"<< /Type /Catalog /Pages 2 0 R >>",
        b"<< /Type /Pages /Kids [3 0 R] /Count 1 >>",
        b"<< /Type /Page /Parent 2 0 R /MediaBox [0 0 %.3f %.3f] /Contents 4 0 R /Resources << /Shading << /Blade 5 0 R >> >> >>"
        % (WIDTH_MM * unit, HEIGHT_MM * unit),
        b"<< /Length %d /Filter /FlateDecode >>\nstream\n%s\nendstream" % (len(packed), packed),
        b"<< /ShadingType 2 /ColorSpace /DeviceRGB /Coords [0 6 0 34] /Extend [true true] /Function 6 0 R >>",
        b"<< /FunctionType 2 /Domain [0 1] /C0 [1 0.86 0.45] /C1 [0.86 0.42 0.12] /N 1 >>",
    ]
    file, places = bytearray(b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n"), []
    for number, body in enumerate(objects, 1):
        places.append(len(file))
        file += b"%d 0 obj\n%s\nendobj\n" % (number, body)
    table = b"".join(b"%010d 00000 n \n" % place for place in places)
    trailer = b"trailer\n<< /Size %d /Root 1 0 R >>\nstartxref\n%d\n%%%%EOF\n" % (len(objects) + 1, len(file))
    return bytes(file) + b"xref\n0 %d\n0000000000 65535 f \n" % (len(objects) + 1) + table + trailer


def _centred(line: BaseGeometry) -> BaseGeometry:
    return affinity.translate(line, -(line.bounds[0] + line.bounds[2]) / 2, 0)
