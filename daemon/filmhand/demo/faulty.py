"""What customers also send: a picture saved too small, a logo on a white ground, an upload that broke off."""

from pathlib import Path

from PIL import Image
from shapely import affinity
from shapely.geometry.base import BaseGeometry

from filmhand.demo import raster, shapes
from filmhand.demo.letters import lettering
from filmhand.demo.raster import Ground

_SPONSOR = Ground(100.0, 58.0, 250.0)
_ORIENTATION = 0x0112  # Exif 2.32 (CIPA DC-008) section 4.6.4
_ROW_0_IS_RIGHT = 6
_STORED_SHARE = 0.58


def draw_photo(path: Path, scene: Image.Image) -> None:
    """Write a small, opaque JPEG from a scene, stored on its side as a telephone does, with the tag that says so."""
    middle = scene.convert("RGB").crop((scene.width // 8, scene.height // 4, scene.width * 7 // 8, scene.height * 7 // 8))
    small = middle.resize((460, round(460 * middle.height / middle.width)), Image.Resampling.LANCZOS)
    tags = Image.Exif()
    tags[_ORIENTATION] = _ROW_0_IS_RIGHT
    small.transpose(Image.Transpose.ROTATE_90).save(path, quality=62, exif=tags)


def draw_sponsor(path: Path) -> None:
    """Write a sponsor's logo as a PNG without transparency, on white."""
    logo = raster.flat(_SPONSOR, _sponsor())
    whole = Image.new("RGB", logo.size, (255, 255, 255))
    whole.paste(logo, mask=logo)
    raster.save_png(whole, path, _SPONSOR.ppi)


def break_off(whole: Path, path: Path) -> None:
    """Write the first part of a file, as an upload that broke off leaves it."""
    stored = whole.read_bytes()
    path.write_bytes(stored[: round(len(stored) * _STORED_SHARE)])


def _sponsor() -> list[tuple[BaseGeometry, shapes.Colour]]:
    hull = shapes.blob([(8, 17), (30, 15.4), (70, 15.4), (92, 17), (74, 21.5), (50, 23), (26, 21.5)])
    deck = shapes.blob([(8, 17), (30, 15.4), (70, 15.4), (92, 17), (70, 18), (30, 18)])
    withies = [shapes.limb((50 + x, 15), (50 + x * 1.5, 5 + abs(x) * 0.35), thickness=0.9) for x in (-9, -4.5, 0, 4.5, 9)]
    lines = [(lettering("WEIR & WITHY", height=11.5, weight=1.4, spacing=0.9), 40, (118, 58, 30))]
    lines.append((lettering("BOATBUILDERS", height=5.4, weight=1.15, spacing=2.0), 50, shapes.NAVY))
    placed = [
        (affinity.translate(line, 50 - (line.bounds[0] + line.bounds[2]) / 2, foot), colour) for line, foot, colour in lines
    ]
    return [*((withy, (92, 128, 62)) for withy in withies), (hull, (118, 58, 30)), (deck, (214, 160, 96)), *placed]
