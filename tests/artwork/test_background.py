"""The ground of opaque artwork: found where there is one, and taken away with clean edges."""

import io
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from artwork_files import encoded
from PIL import Image, ImageDraw, ImageFilter

from filmhand.artwork.background import Ground, ground_of, is_opaque, without_ground
from filmhand.artwork.model import Artwork, Kind
from filmhand.preflight.finding import Finding, Severity
from filmhand.rules import Rule

Opener = Callable[..., Artwork | Finding]

WIDE = Path("/usr/share/color/icc/ghostscript/rommrgb.icc")

REMOVE = Rule.model_validate({"title": "t", "background": {"opaque": "remove", "tolerance": 4}})


def _artwork(picture: Image.Image) -> Artwork:
    return Artwork(np.asarray(picture.convert("RGBA")), None, None, Kind.PNG)


def _antialiased(size: int = 240) -> Image.Image:
    """A blue ring and a red dot on nothing, antialiased eight times over."""
    picture = Image.new("RGBA", (size * 8, size * 8), (20, 40, 160, 0))
    draw = ImageDraw.Draw(picture)
    draw.ellipse((300, 300, size * 8 - 300, size * 8 - 300), fill=(20, 40, 160, 255))
    draw.ellipse((600, 600, size * 8 - 600, size * 8 - 600), fill=(20, 40, 160, 0))
    draw.ellipse((100, 100, 260, 260), fill=(200, 30, 20, 255))
    return picture.reduce(8)


def _on(motif: Image.Image, ground: str) -> Image.Image:
    flat = Image.new("RGBA", motif.size, ground)
    flat.alpha_composite(motif)
    return flat.convert("RGB")


@pytest.mark.parametrize("ground", ["#ffffff", "#000000", "#00a651", "#f4e9d8"])
def test_a_plain_ground_is_found(ground: str) -> None:
    """Its colour and its share of the border, JPEG's noise included; a motif may touch a fifth of the border."""
    picture = _on(_antialiased(), ground)
    ImageDraw.Draw(picture).rectangle((0, 0, 140, 8), fill="#8a2be2")
    for artwork in (_artwork(picture), _artwork(Image.open(_jpeg(picture)))):
        found = ground_of(artwork, 4.0)
        assert found is not None
        assert np.abs(np.array(found.rgb) - [int(ground[i : i + 2], 16) for i in (1, 3, 5)]).max() <= 1
        assert 0.8 <= found.share < 0.9


def _jpeg(picture: Image.Image) -> io.BytesIO:
    return io.BytesIO(encoded(picture, "JPEG", quality=80))


def test_photos_and_transparent_art_have_no_ground(photo: Image.Image) -> None:
    """A photo is opaque without one ground colour; art with transparency is not opaque at all."""
    assert is_opaque(_artwork(photo))
    assert ground_of(_artwork(photo), 4.0) is None
    assert not is_opaque(_artwork(_antialiased()))
    assert ground_of(_artwork(_antialiased()), 4.0) is None


@pytest.mark.parametrize("ground", ["#ffffff", "#000000", "#f4e9d8"])
def test_removed_and_laid_over_the_ground_it_looks_as_before(ground: str) -> None:
    """Edges are unmixed: over the same ground every pixel is within ΔRGB 14 of what it was (what the tolerance takes away)."""
    picture = _on(_antialiased(), ground)
    found = ground_of(_artwork(picture), 4.0)
    assert found is not None
    removed = without_ground(_artwork(picture), found, 4.0)
    again = np.asarray(_on(Image.fromarray(removed.pixels), ground)).astype(int)
    assert np.abs(again - np.asarray(picture)).max() <= 14


@pytest.mark.parametrize("ground", ["#ffffff", "#000000"])
def test_removed_edges_are_those_of_the_motif(ground: str) -> None:
    """Alpha comes back within 0.1 of the motif's own on average at its edges, and its colour holds none of the ground."""
    motif = _antialiased()
    own = np.asarray(motif)
    artwork = _artwork(_on(motif, ground))
    removed = without_ground(artwork, Ground(tuple(int(ground[i : i + 2], 16) for i in (1, 3, 5)), 1.0), 4.0).pixels
    inside = np.hypot(*(np.mgrid[:240, :240] - 119.5)) < 60  # enclosed by the ring: it stays, see below
    edge = (own[..., 3] > 20) & (own[..., 3] < 235) & ~inside
    off = np.abs(removed[..., 3].astype(int) - own[..., 3])[edge]
    assert off.mean() / 255 < 0.03
    blue = edge & (removed[..., 3] > 40) & (np.indices(edge.shape).sum(axis=0) > 80)
    assert np.abs(removed[..., :3].astype(int) - (20, 40, 160))[blue].max() <= 8
    assert np.all(removed[..., 3][~inside & (own[..., 3] == 0)] == 0)
    assert np.all(removed[..., 3][120, 110:130] == 255)  # the ground inside the ring cannot be told from the motif


def test_jpegs_noise_goes_with_the_ground() -> None:
    """Of a heavily compressed picture nothing is left standing further than 12 pixels from the motif."""
    motif = _antialiased()
    picture = Image.open(_jpeg(_on(motif, "#ffffff"))).convert("RGB")
    artwork = _artwork(picture)
    found = ground_of(artwork, 4.0)
    assert found is not None
    alpha = without_ground(artwork, found, 4.0).pixels[..., 3]
    near = np.asarray(motif.getchannel("A").filter(ImageFilter.MaxFilter(25))) > 0
    near |= np.hypot(*(np.mgrid[:240, :240] - 119.5)) < 60  # inside the ring the ground stays
    assert np.all(alpha[~near] == 0)


def test_a_thin_line_survives() -> None:
    """A one-pixel antialiased line has no solid core; its darkest pixels keep its colour."""
    motif = Image.new("RGBA", (800, 800), (0, 0, 0, 0))
    ImageDraw.Draw(motif).line((100, 140, 700, 660), fill=(0, 0, 0, 255), width=12)
    motif = motif.reduce(8)
    artwork = _artwork(_on(motif, "#ffffff"))
    removed = without_ground(artwork, Ground((255, 255, 255), 1.0), 4.0).pixels[..., 3].astype(float)
    assert removed.sum() == pytest.approx(np.asarray(motif)[..., 3].astype(float).sum(), rel=0.25)


def test_opening_removes_it_when_the_rule_says_so(opened: Opener) -> None:
    """Before trimming, so that the printed width is the motif's; said as a warning."""
    motif = _antialiased()
    artwork = opened(encoded(_on(motif, "#ffffff"), "PNG"), rule=REMOVE)
    assert isinstance(artwork, Artwork)
    left, top, right, bottom = motif.getchannel("A").point(lambda value: 255 * (value > 25)).getbbox()
    assert abs(artwork.width_px - (right - left)) <= 1
    assert abs(artwork.height_px - (bottom - top)) <= 1
    assert ("ground", Severity.WARN) in {(f.check, f.severity) for f in artwork.findings}


@pytest.mark.skipif(not WIDE.is_file(), reason="needs rommrgb.icc (Debian libgs-common)")
def test_the_ground_is_measured_in_the_artworks_own_profile() -> None:
    """The same numbers lie further apart in a space of wider primaries: two greens within tolerance in sRGB are not in it."""
    pixels = np.full((40, 40, 4), 255, np.uint8)
    pixels[..., :3] = (0, 200, 0)
    pixels[:, :12, :3] = (60, 200, 0)
    wide = WIDE.read_bytes()
    assert ground_of(Artwork(pixels, None, None, Kind.PNG), 4.0) is not None
    assert ground_of(Artwork(pixels, wide, None, Kind.PNG), 4.0) is None


def _shaded(motif: Image.Image, depth: float) -> Image.Image:
    """On light gray that darkens by a share from left to right and again from the middle outward."""
    height, width = motif.height, motif.width
    y, x = np.mgrid[0:height, 0:width] / max(height, width) - 0.5
    wall = 235 * (1 - depth * (x + 0.5) - depth * (x * x + y * y))
    ground = Image.fromarray(np.dstack([np.rint(wall)] * 3 + [np.full_like(wall, 255)]).astype(np.uint8))
    ground.alpha_composite(motif)
    return ground.convert("RGB")


def test_a_shaded_ground_is_followed_and_taken_away() -> None:
    """Light that falls off by a third leaves the border far from one colour; alpha comes back within 0.01 on average."""
    motif = _antialiased()
    outside = np.hypot(*(np.mgrid[:240, :240] - 119.5)) >= 60
    for depth in (0.05, 0.2):
        artwork = _artwork(_shaded(motif, depth))
        found = ground_of(artwork, 4.0)
        assert found is not None
        assert (found.shading is not None) is (depth > 0.1)
        alpha = without_ground(artwork, found, 4.0).pixels[..., 3]
        assert np.abs(alpha.astype(int) - np.asarray(motif)[..., 3])[outside].mean() / 255 < 0.01


def test_two_colours_side_by_side_are_no_shading() -> None:
    """A picture half light, half dark gray has no one ground, however near a smooth surface comes to both."""
    pixels = np.full((200, 200, 4), 255, np.uint8)
    for dark in (225, 215, 180, 90):
        pixels[:, 100:, :3] = dark
        assert ground_of(Artwork(pixels, None, None, Kind.PNG), 2.0) is None


@pytest.mark.parametrize(("sigma", "most"), [(1, 0.01), (2, 0.03)])
def test_blurred_edges_are_unmixed_as_far_as_they_reach(sigma: float, most: float) -> None:
    """A blur of 2 pixels makes an edge of eight: alpha within 0.03 on average within 6 pixels of it; motif and ground known."""
    motif = np.full((240, 240, 4), (20, 40, 160, 0), np.uint8)
    motif[60:180, 60:180, 3] = 255
    motif[..., 3] = np.asarray(Image.fromarray(motif[..., 3]).filter(ImageFilter.GaussianBlur(sigma)))
    own = motif[..., 3]
    removed = without_ground(_artwork(_on(Image.fromarray(motif), "#ffffff")), Ground((255, 255, 255), 1.0), 4.0).pixels
    mixed = Image.fromarray(np.where((own > 0) & (own < 255), 255, 0).astype(np.uint8))
    edge = np.asarray(mixed.filter(ImageFilter.MaxFilter(13))) > 0
    assert np.abs(removed[..., 3].astype(int) - own)[edge].mean() / 255 < most
    seen = removed[..., 3] > 60
    assert np.abs(removed[..., :3].astype(int) - (20, 40, 160))[seen].max() <= 12


def test_a_textured_motif_keeps_its_inside(photo: Image.Image) -> None:
    """Its own lights and darks behind a sharp edge are not taken for a mixture with the ground."""
    motif = Image.new("RGBA", (240, 200), (0, 0, 0, 0))
    motif.paste(photo.point(lambda value: 40 + value // 2), (40, 40))
    alpha = without_ground(_artwork(_on(motif, "#ffffff")), Ground((255, 255, 255), 1.0), 4.0).pixels[..., 3]
    inside = np.zeros(alpha.shape, np.bool_)
    inside[43:157, 43:197] = True
    assert np.mean(alpha[inside] == 255) == 1
    assert alpha[inside | (np.asarray(motif)[..., 3] == 255)].mean() > 250
