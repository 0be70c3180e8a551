"""SVG: drawn as the standard says, at its own or the ordered size; nothing outside the file is touched; cut files are caught."""

import base64
import gzip
import shutil
import subprocess
import threading
import zlib
from collections.abc import Callable
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path

import numpy as np
import pytest
from artwork_files import encoded, opened_whole
from PIL import Image

from filmhand.artwork import drawing, svg
from filmhand.artwork.model import Artwork, Kind
from filmhand.artwork.size import printed_size
from filmhand.artwork.svg_text import fault_of_svg
from filmhand.intake.ticket import Ticket
from filmhand.preflight.finding import Finding, Severity
from filmhand.rules import Rule

Opener = Callable[..., Artwork | Finding]

WHOLE = Rule.model_validate({"title": "t", "size": {"trim": False}})
NO_ORDER = Ticket()


def _svg(inside: str, size: str = 'width="100mm" height="50mm" viewBox="0 0 200 100"', before: str = "") -> bytes:
    space = 'xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'
    return f"{before}<svg {space} {size}>{inside}</svg>".encode()


def _checks(artwork: Artwork) -> dict[str, Severity]:
    return {finding.check: finding.severity for finding in artwork.findings}


RED = '<rect x="20" y="10" width="100" height="60" fill="#c81e28"/>'


@pytest.mark.parametrize("width_mm", [20, 100, 254])
def test_the_trimmed_motif_has_360_pixels_an_inch_of_print(opened: Opener, width_mm: int) -> None:
    """Ordered so wide: within a pixel at each edge of width × 360 / 25.4, five by three, red throughout, without findings."""
    artwork = opened_whole(opened(_svg(RED), ticket=Ticket.model_validate({"width": f"{width_mm} mm"})))
    assert artwork.kind is Kind.SVG
    assert artwork.width_px == pytest.approx(width_mm * 360 / 25.4, rel=0.002, abs=2)
    assert artwork.width_px / artwork.height_px == pytest.approx(5 / 3, rel=0.01)
    assert tuple(artwork.pixels[artwork.height_px // 2, artwork.width_px // 2]) == (200, 30, 40, 255)
    assert not artwork.findings


@pytest.mark.parametrize(
    ("size", "width_mm", "is_held"),
    [
        ('width="100mm" height="50mm" viewBox="0 0 200 100"', 100, False),
        ('width="4in" height="2in" viewBox="0 0 200 100"', 101.6, False),
        ('width="72pt" height="36pt" viewBox="0 0 200 100"', 25.4, False),
        ('width="6pc" viewBox="0 0 200 100"', 25.4, False),
        ('width="10cm" height="5cm"', 100, False),
        ('width="192" height="96"', 50.8, True),
        ('width="192px" height="96px" viewBox="0 0 200 100"', 50.8, True),
        ('viewBox="0 0 192 96"', 50.8, True),
        ('width="100%" height="100%" viewBox="0 0 192 96"', 50.8, True),
    ],
)
def test_own_size(opened: Opener, size: str, width_mm: float, is_held: bool) -> None:
    """CSS Values and Units 4 section 6.2: 96 pixels, 72 points, 6 picas an inch. Pixels alone are held for a word on the size."""
    artwork = opened_whole(opened(_svg('<rect width="100%" height="100%"/>', size), rule=WHOLE, ticket=NO_ORDER))
    assert printed_size(artwork, ticket=NO_ORDER, rule=WHOLE).width_mm == pytest.approx(width_mm, rel=0.003)
    assert artwork.pixels[..., 3].min() == 255  # 100 % of its viewport, which is the whole
    assert (_checks(artwork).get("size") is Severity.HOLD) is is_held


def test_transparency_is_straight(opened: Opener) -> None:
    """Half-transparent red over nothing is red with alpha one half; over blue it is what the Porter-Duff "over" makes of it."""
    inside = '<rect width="100" height="100" fill="red" opacity="0.5"/>'
    inside += '<rect x="100" width="100" height="100" fill="#00f"/>'
    inside += '<rect x="100" width="100" height="100" fill="red" opacity="0.5"/>'
    pixels = opened_whole(opened(_svg(inside), rule=WHOLE)).pixels
    height, width = pixels.shape[:2]
    assert np.abs(pixels[height // 2, width // 4].astype(int) - (255, 0, 0, 128)).max() <= 1
    assert np.abs(pixels[height // 2, 3 * width // 4].astype(int) - (128, 0, 127, 255)).max() <= 1


_COARSE = Image.fromarray(np.random.default_rng(3).integers(0, 256, (4, 6, 3), dtype=np.uint8))
PICTURE = encoded(_COARSE.resize((60, 40), Image.Resampling.BICUBIC), "PNG")  # smooth: renderers enlarge differently
INSIDE = "data:image/png;base64," + base64.b64encode(PICTURE).decode()

SCENES = {
    "gradients": '<defs><linearGradient id="g" x1="0" y1="0" x2="1" y2="1"><stop stop-color="#f80"/><stop offset=".6" '
    'stop-color="#08f"/><stop offset="1" stop-color="#000" stop-opacity="0"/></linearGradient><radialGradient id="r">'
    '<stop stop-color="#fff"/><stop offset="1" stop-color="#a0c"/></radialGradient></defs>'
    '<rect width="100" height="100" fill="url(#g)"/><circle cx="150" cy="50" r="45" fill="url(#r)"/>',
    "clip and mask": '<defs><clipPath id="c"><circle cx="50" cy="50" r="40"/></clipPath><mask id="m"><rect x="100" width="100" '
    'height="100" fill="#888"/></mask></defs><rect width="100" height="100" fill="#284" clip-path="url(#c)"/>'
    '<rect x="100" width="100" height="100" fill="#d22" mask="url(#m)"/>',
    "strokes and dashes": '<path d="M10 10 C 60 90, 120 -20, 190 80" fill="none" stroke="#206" stroke-width="9" '
    'stroke-linecap="round" stroke-dasharray="30 18"/><path d="M20 90h80v-30z" stroke="#0a0" stroke-width="3" '
    'fill-opacity=".4"/>',
    "style sheet and copies": '<style>.a{fill:#d40} #b > rect{fill:#05a;fill-rule:evenodd}</style><g id="b"><rect width="40" '
    'height="40"/></g><use xlink:href="#b" x="60" y="30"/><rect class="a" x="150" y="10" width="30" height="80" rx="9"/>',
    "groups": '<g transform="translate(100 50) rotate(30) scale(1.5 .8)" opacity=".6"><ellipse rx="40" ry="25" fill="#077"/>'
    '<rect x="-10" y="-10" width="60" height="20" fill="#fb0"/></g>',
    "lettering": '<text x="10" y="70" font-family="DejaVu Sans" font-size="48" fill="#222">Shop 7</text>',
    "picture": f'<image x="10" y="10" width="120" height="80" xlink:href="{INSIDE}"/>',
}


@pytest.mark.outside
@pytest.mark.skipif(shutil.which("rsvg-convert") is None, reason="needs rsvg-convert (Debian librsvg2-bin)")
@pytest.mark.parametrize("name", SCENES)
def test_drawn_as_another_renderer_draws_it(opened: Opener, name: str, tmp_path: Path) -> None:
    """Gradients, clips, masks, strokes, style sheets, groups, lettering and pictures against librsvg at the same size.

    Antialiasing differs on edges, so: at most 2 % of pixels differ by more than 24 of 255, over white, and 1.5 on average.
    """
    artwork = opened_whole(opened(_svg(SCENES[name]), rule=WHOLE))
    drawn = Image.fromarray(artwork.pixels)
    (tmp_path / "in.svg").write_bytes(_svg(SCENES[name]))
    size = ["-w", str(drawn.width), "-h", str(drawn.height)]
    subprocess.run(["rsvg-convert", *size, "-o", "out.png", "in.svg"], cwd=tmp_path, check=True)
    theirs = Image.open(tmp_path / "out.png").convert("RGBA")
    for ground in ("white", "black"):
        a, b = (
            np.asarray(Image.alpha_composite(Image.new("RGBA", drawn.size, ground), each)).astype(int) for each in (drawn, theirs)
        )
        off = np.abs(a - b).max(axis=-1)
        assert (off > 24).mean() <= 0.02
        assert off.mean() <= 1.5


def test_a_packed_drawing_is_the_same(opened: Opener) -> None:
    """SVGZ by gzip."""
    data = _svg(SCENES["groups"])
    plain, packed = (opened_whole(opened(each, rule=WHOLE)).pixels for each in (data, gzip.compress(data)))
    assert np.array_equal(plain, packed)


def test_large_prints_are_drawn_in_bands_without_seams(opened: Opener, monkeypatch: pytest.MonkeyPatch) -> None:
    """Bands of 100 rows give what one piece gives, but for single pixels of an outline: no row has more than one in a hundred."""
    whole = opened_whole(opened(_svg(SCENES["groups"]), rule=WHOLE)).pixels
    monkeypatch.setattr(svg, "_BAND_PX", 142_000)
    banded = opened_whole(opened(_svg(SCENES["groups"]), rule=WHOLE)).pixels
    off = np.abs(whole.astype(int) - banded).max(axis=-1) > 2
    assert off.mean(axis=1).max() <= 0.01


def test_very_large_prints_are_drawn_coarser_and_it_is_said(opened: Opener, monkeypatch: pytest.MonkeyPatch) -> None:
    """No more pixels than MOST_DRAWN."""
    monkeypatch.setattr(drawing, "MOST_DRAWN", 200_000)
    artwork = opened_whole(opened(_svg(RED)))
    assert artwork.width_px * artwork.height_px <= 210_000
    assert _checks(artwork)["drawn"] is Severity.NOTE


class _Counting(BaseHTTPRequestHandler):
    asked = 0

    def do_GET(self) -> None:
        type(self).asked += 1
        self.send_response(200)
        self.end_headers()
        self.wfile.write(PICTURE)

    def log_message(self, *_: object) -> None: ...


def test_nothing_outside_the_file_is_asked_for(opened: Opener, tmp_path: Path) -> None:
    """Pictures, copies, style sheets and scripts on a server of this machine and on its disk: left out, said, never fetched."""
    (tmp_path / "secret.png").write_bytes(encoded(Image.new("RGB", (50, 50), "lime"), "PNG"))
    server = HTTPServer(("127.0.0.1", 0), _Counting)
    thread = threading.Thread(target=server.serve_forever)
    thread.start()
    try:
        there = f"http://127.0.0.1:{server.server_port}/a.png"
        inside = RED + "".join(
            f'<image width="200" height="100" {name}="{address}"/>'
            for name in ("href", "xlink:href")
            for address in (there, "secret.png", str(tmp_path / "secret.png"), f"file://{tmp_path}/secret.png")
        )
        inside += f'<use xlink:href="{there}#x"/><style>@import url({there}); rect{{fill:url({there}#g) #c81e28}}</style>'
        inside += f'<script href="{there}"/><script>alert(1)</script>'
        artwork = opened_whole(opened(_svg(inside), rule=WHOLE))
    finally:
        server.shutdown()
        thread.join()
        server.server_close()
    assert _Counting.asked == 0
    assert _checks(artwork)["svg_missing"] is Severity.HOLD
    assert next(f.value for f in artwork.findings if f.check == "svg_missing") == 9
    assert not np.any((artwork.pixels[..., 1] > 200) & (artwork.pixels[..., 0] < 60))  # no lime


@pytest.mark.parametrize(
    ("before", "inside", "words"),
    [
        ('<!DOCTYPE svg [<!ENTITY x SYSTEM "file:///etc/passwd">]>', "<text>&x;</text>", "outside the file"),
        ('<!DOCTYPE svg [<!ENTITY % p SYSTEM "http://127.0.0.1:9/">%p;]>', RED, "outside the file"),
        ('<!DOCTYPE svg [<!ENTITY a "ha"><!ENTITY b "&a;&a;"><!ENTITY c "&b;&b;">]>', "<text>&c;</text>", "unfold"),
        (f'<!DOCTYPE svg [<!ENTITY a "{"h" * 100_000}">]>', f"<text>{'&a;' * 1000}</text>", "unfold"),
        ("", "<g>" * 5000 + "</g>" * 5000, "without end"),
    ],
    ids=["external", "parameter", "laughs", "quadratic", "depth"],
)
def test_hostile_declarations_are_refused(opened: Opener, before: str, inside: str, words: str) -> None:
    """External entities, entities of entities, one long entity many times, parts within parts: refused before they unfold."""
    finding = opened(_svg(inside, before=before))
    assert isinstance(finding, Finding)
    assert finding.severity is Severity.REJECT
    assert words in str(finding.message)


def test_harmless_declarations_are_followed(opened: Opener) -> None:
    """Drawing programs declare short names for addresses and colours (XML 1.0 section 4.2.1)."""
    before = '<!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN" "http://www.w3.org/Graphics/SVG/1.1/DTD/svg11.dtd" '
    before += '[<!ENTITY c "#c81e28">]>'
    artwork = opened_whole(opened(_svg(RED.replace("#c81e28", "&c;"), before=before)))
    assert tuple(artwork.pixels[9, 9]) == (200, 30, 40, 255)


def test_copies_of_copies_are_refused(opened: Opener) -> None:
    """Thirty levels of two copies each: 2^30 rectangles. One of itself is no bomb."""
    levels = "".join(f'<g id="g{n}"><use href="#g{n + 1}"/><use href="#g{n + 1}"/></g>' for n in range(30))
    finding = opened(_svg(levels + '<g id="g30"><rect width="9" height="9"/></g>'))
    assert isinstance(finding, Finding)
    assert "parts" in str(finding.message)
    assert isinstance(opened(_svg(RED + '<g id="s"><use href="#s"/></g>')), Artwork)
    chain = "".join(f'<g id="c{n}"><use href="#c{n + 1}"/></g>' for n in range(3000))
    assert isinstance(opened(_svg(RED + chain)), Finding)


def test_a_packed_bomb_is_refused() -> None:
    """A gigabyte of blanks in a megabyte of gzip."""
    packed = gzip.compress(_svg(" " * (70 << 20)))
    fault = fault_of_svg(packed)
    assert fault is not None
    assert "more text" in fault.text


def test_a_picture_bomb_inside_is_refused(opened: Opener) -> None:
    """A PNG header of 200,000 × 100,000 in a data address."""
    data = bytearray(PICTURE)
    data[16:24] = (200_000).to_bytes(4, "big") + (100_000).to_bytes(4, "big")
    data[29:33] = zlib.crc32(data[12:29]).to_bytes(4, "big")
    address = "data:image/png;base64," + base64.b64encode(bytes(data)).decode()
    finding = opened(_svg(f'<image width="9" height="9" href="{address}"/>'))
    assert isinstance(finding, Finding)
    assert finding.severity is Severity.REJECT


@pytest.mark.parametrize(
    ("around", "ppi"),
    [
        ("{}", 60 / (60 / 25.4)),
        ('<g transform="scale(2)">{}</g>', 60 / (120 / 25.4)),
        ('<g transform="rotate(30 5 5) translate(3,4)"><g transform="matrix(.5 0 0 .5 0 0)">{}</g></g>', 60 / (30 / 25.4)),
    ],
)
def test_resolution_of_pictures_inside(opened: Opener, around: str, ppi: float) -> None:
    """60 × 40 pixels on 120 × 80 units of half a millimetre, 60 mm: 25.4 ppi; turned and scaled accordingly."""
    picture = f'<image x="1" y="1" width="120" height="80" href="{INSIDE}"/>'
    artwork = opened_whole(opened(_svg(around.format(picture)), rule=WHOLE))
    assert artwork.raster_ppi == pytest.approx(ppi, rel=1e-6)


@pytest.mark.parametrize(
    ("lettering", "names"),
    [
        ('<text y="50" font-family="Nothing Known">A</text>', ["Nothing Known"]),
        ('<g style="font-family: \'Other Face\', sans-serif"><text y="50">A</text></g>', ["Other Face"]),
        ('<style>.t{font:bold 12px "Third Face"} .u{font-family:Unused}</style><text y="50" class="t">A</text>', ["Third Face"]),
        ('<text y="50">A</text>', []),
        ('<text y="50" font-family="DejaVu Sans">A</text>', None),
        ('<text font-family="Nothing Known"> </text>' + RED, None),
    ],
)
def test_missing_fonts_are_said_and_stood_in_for(opened: Opener, lettering: str, names: list[str] | None) -> None:
    """Fonts named for letters that are there and not installed: held by the rule's limit; the letters are drawn all the same."""
    artwork = opened_whole(opened(_svg(f'<g font-size="40">{lettering}</g>')))
    found = [finding for finding in artwork.findings if finding.check == "fonts"]
    assert bool(found) is (names is not None)
    assert artwork.pixels[..., 3].any()
    if names is not None:
        assert found[0].severity is Severity.HOLD
        assert found[0].value == 1
        assert all(name in str(found[0].message) for name in names)


def test_what_only_browsers_draw_is_said(opened: Opener) -> None:
    """foreignObject: held; within a switch that offers something else, not (SVG 2 section 5.7); movement is a note."""
    foreign = '<foreignObject width="9" height="9"><p xmlns="http://www.w3.org/1999/xhtml">Hi</p></foreignObject>'
    assert _checks(opened_whole(opened(_svg(RED + foreign))))["svg_browser"] is Severity.HOLD
    assert not _checks(opened_whole(opened(_svg(f"<switch>{foreign}<g>{RED}</g></switch>"))))
    moving = RED.replace("/>", '><animate attributeName="x" to="9" dur="1s"/></rect>')
    assert _checks(opened_whole(opened(_svg(moving)))) == {"pages": Severity.NOTE}


def test_cut_anywhere_is_caught(opened: Opener) -> None:
    """Cut at 60 places, and zeros from there on: refused, packed or not."""
    data = _svg("".join(SCENES.values()))
    assert fault_of_svg(data) is None
    for whole in (data, gzip.compress(data)):
        for length in np.linspace(40, len(whole) - 1, 60).astype(int):
            assert fault_of_svg(whole[: int(length)]) is not None, length
            emptied = whole[: int(length)] + bytes(len(whole) - int(length))
            assert emptied == whole or fault_of_svg(emptied) is not None, length


def test_changed_bytes_never_raise(opened: Opener) -> None:
    """Forty drawings with a few bytes changed: an artwork or a rejection."""
    rng = np.random.default_rng(1)
    data = _svg("".join(SCENES.values()))
    for _ in range(40):
        changed = bytearray(data)
        for place in rng.integers(0, len(data), 3):
            changed[place] = rng.integers(32, 127)
        result = opened(bytes(changed), ticket=Ticket.model_validate({"width": "20 mm"}))
        assert isinstance(result, Artwork) or result.severity is Severity.REJECT


def test_without_a_size_it_is_refused(opened: Opener) -> None:
    """Neither width, height nor viewBox that say anything."""
    for size in ("", 'width="0" height="10"', 'width="1e12" height="1"', 'viewBox="0 0 -5 3"'):
        assert isinstance(opened(_svg(RED, size)), Finding)


def test_an_empty_drawing_opens_empty(opened: Opener) -> None:
    """Preflight says that it is empty, not this."""
    assert not opened_whole(opened(_svg(""))).pixels[..., 3].any()
