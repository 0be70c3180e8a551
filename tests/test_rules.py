"""Rule and printer files: what is accepted, and how what is wrong is refused."""

from datetime import time
from pathlib import Path

import pytest

from filmhand.errors import ExitCode, SettingsError
from filmhand.printer import load_printer
from filmhand.rules import Form, Ink, Nest, OnOpaque, PressRules, RuleFile, ScreenKind

ROOT = Path(__file__).parents[1]
TEMPLATES = ROOT / "daemon" / "filmhand" / "templates"

PRINTER = """\
name = "house printer"
film_width = "22 in"
margin = "10 mm"
resolution = [720, 1440]
bits = 2
inks = ["C", "M", "Y", "K", "R", "O", "W"]
mirror = false
profile = "house.icc"
[drop_pl]
default = [3.0, 7.0, 12.0]
W = 12.0
[speed_m2_h]
4 = 12.0
6 = 8.0
[price]
ink_per_l = 55.0
white_per_l = 45.0
film_per_m2 = 1.9
powder_per_kg = 14.0
powder_g_m2 = 45.0
"""

RULE = r"""
title = "Dark cotton, soft hand"
garment = "#1b1b1d"
[ticket]
filename = '(?P<order>[^_]+)_(?P<width>[\d.]+(mm|in))_x(?P<copies>\d+)'
copies = 2
[size]
width = "280 mm"
height = "28 cm"
max = ["400 mm", "500 mm"]
trim = false
enlarge = false
[background]
opaque = "remove"
tolerance = 3.0
[preflight]
ppi = { warn = 200, hold = 150, reject = 100 }
thin_line = { warn = "0.4 mm", reject = "0.2 mm" }
thin_gap = { warn = "0.3 mm" }
soft_edge = { warn = 5, hold = 30 }
out_of_gamut = { warn = 10 }
[colour]
intent = "relative"
black_point_compensation = false
ink_limit = 240
black = "least-ink"
[knockout]
strength = 1.0
tolerance = 2.5
least_coverage = 10
[halftone]
coverage = { screen = "am", lpi = 45, angle = 22.5, shape = "ellipse" }
inks = { screen = "blue-noise" }
least_dot = "0.25 mm"
least_hole = "0.2 mm"
[underbase]
density = 90
choke = "0.15 mm"
island_choke = "0.05 mm"
[gang]
gap = "6 mm"
rotate = [0, 90]
nest = "box"
seconds = 20
max_length = "5 m"
close = { at = ["22:00", "06:00"], after = "45 min", length = "3 m" }
[output]
form = "one-file"
compression = "deflate"
passes = 6
[[when]]
width_below = "120 mm"
underbase.choke = "0.1 mm"
halftone.coverage.lpi = 55
[[when]]
width_above = "60 mm"
width_below = "100 mm"
halftone.coverage.lpi = 60
"""


def parsed(text: str) -> RuleFile:
    """A rule file from text."""
    return RuleFile.parse(text, Path("rules/mine.toml"))


def refusal_of(text: str) -> SettingsError:
    """The refusal that a rule's text earns."""
    with pytest.raises(SettingsError) as refusal:
        parsed(text)
    return refusal.value


def test_every_key_of_a_rule_is_taken_in() -> None:
    """Lengths become mm, times seconds, words their enumerations."""
    rule = parsed(RULE).general
    assert (rule.garment, rule.ticket.copies, rule.size.height, rule.size.max) == ("#1b1b1d", 2, 280, (400, 500))
    assert (rule.background.opaque, rule.output.form, rule.gang.nest) == (OnOpaque.REMOVE, Form.ONE_FILE, Nest.BOX)
    assert (rule.preflight.ppi.hold, rule.preflight.thin_gap.warn if rule.preflight.thin_gap else None) == (150, 0.3)
    assert (rule.halftone.coverage.screen, rule.halftone.inks.screen) == (ScreenKind.AM, ScreenKind.BLUE_NOISE)
    assert (rule.gang.close.at, rule.gang.close.after, rule.gang.close.length) == ((time(22), time(6)), 2700, 3000)


def test_every_key_of_a_printer_is_taken_in(tmp_path: Path) -> None:
    """Three drop sizes, extra inks, speeds by passes."""
    (tmp_path / "printer.toml").write_text(PRINTER, "utf-8")
    printer = load_printer(tmp_path / "printer.toml")
    assert printer.film_width == pytest.approx(558.8)
    assert printer.printable_width == pytest.approx(538.8)
    assert printer.colours == tuple(Ink(letter) for letter in "CMYKRO")
    assert (printer.drop_pl.of("C"), printer.drop_pl.of("W")) == ((3.0, 7.0, 12.0), (12.0,))
    assert printer.speed_m2_h == {4: 12.0, 6: 8.0}


@pytest.mark.parametrize("path", sorted((ROOT / "rules").glob("*.toml")), ids=lambda path: path.stem)
def test_every_starter_rule_loads_at_every_width(path: Path) -> None:
    """Each keeps the night's layout modest, labels every copy, and states no press settings that are not the shop's own."""
    file = RuleFile.load(path)
    assert file.name == path.stem
    for width_mm in (20, 119, 121, 400):
        assert file.for_width(width_mm).gang.seconds <= 10
    assert file.general.gang.labels
    assert file.general.press == PressRules()


def test_the_printer_template_loads() -> None:
    """A new shop's printer file is whole."""
    assert load_printer(TEMPLATES / "printer.toml").inks[-1] == Ink.WHITE


def test_when_tables_are_laid_over_the_general_part_in_order() -> None:
    """A width that both mean gets the later's value, and keeps what only the first says."""
    file = parsed(RULE)
    wide, narrow, both = file.for_width(200), file.for_width(110), file.for_width(80)
    assert (wide.underbase.choke, wide.halftone.coverage.lpi) == (0.15, 45)
    assert (narrow.underbase.choke, narrow.halftone.coverage.lpi) == (0.1, 55)
    assert (both.underbase.choke, both.halftone.coverage.lpi) == (0.1, 60)
    assert both.halftone.coverage.angle == wide.halftone.coverage.angle
    assert file.for_width(120) is file.general


def test_the_digest_follows_the_text() -> None:
    """A remark makes another version."""
    assert parsed(RULE).digest == parsed(RULE).digest != parsed(RULE + "# remark\n").digest


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('titel = "x"\n', ("Line 1", "key title", "missing")),
        ('title = "x"\n\n[size]\nwidht = "3 mm"\n', ("Line 4", "key size.widht", "no such key")),
        ('title = "x"\n[underbase]\nchoke = 0.15\n', ("Line 3", "key underbase.choke", "unit", '"0.15 mm"')),
        ('title = "x"\n[size]\nwidth = "0 mm"\n', ("Line 3", "key size.width", "greater than 0")),
        (
            'title = "x"\n[background]\nopaque = "drop"\n',
            ("Line 3", "key background.opaque", "'print', 'hold', 'reject' or 'remove'"),
        ),
        ('title = "x"\n[knockout]\n# none\nstrength = 1.5\n', ("Line 4", "key knockout.strength", "less than or equal to 1")),
        ('title = "x"\n[knockout]\nstrength = nan\n', ("Line 3", "key knockout.strength", "finite")),
        ('title = "x"\ngarment = "black"\n', ("Line 2", "key garment", "six digits", "'black'")),
        ('title = "x"\n[preflight]\nppi = 200\n', ("Line 3", "key preflight.ppi", "table")),
        ('title = "x"\n[preflight]\nppi = { warn = 200, rejct = 100 }\n', ("Line 3", "key preflight.ppi.rejct", "no such key")),
        ('title = "x"\n[halftone.coverage]\nlpi = 1000\n', ("Line 3", "key halftone.coverage.lpi", "85")),
        ('title = "x"\n[gang]\nclose = { at = ["22:00", "25:00"] }\n', ("Line 3", "key gang.close.at[2]", "time of day")),
        ('title = "x"\n[size]\nmax = ["3 mm"]\n', ("Line 3", "key size.max[2]", "missing")),
        ('title = "x"\n[size]\ntrim = "perhaps"\n', ("Line 3", "key size.trim", "true or false")),
        ("title = \"x\"\n[ticket]\nfilename = '(?P<order>'\n", ("key ticket", "regular expression")),
        ("title = \"x\"\n[ticket]\nfilename = '(?P<size>.*)'\n", ("key ticket", "no such part of a ticket: size")),
        ('title = "x"\nwhen = 3\n', ("Line 2", "key when", "[[when]]")),
        ('title = "x"\n[when]\nwidth_below = "3 mm"\n', ("Line 2", "key when", "double brackets")),
        ('title = "x"\n[[when]]\nunderbase.choke = "1 mm"\n', ("Line 2", "key when[1]", "width_below or width_above")),
        (
            'title = "x"\n[[when]]\nwidth_below = "9 mm"\nunderbase.choke = "1 mm"\n'
            '[[when]]\nwidth_below = "9 mm"\nunderbase.choke = "1"\n',
            ("Line 7", "key when[2].underbase.choke", "unit"),
        ),
    ],
)
def test_a_wrong_rule_is_refused_with_file_line_key_and_what_was_expected(text: str, said: tuple[str, ...]) -> None:
    """So that the operator can mend it without asking anybody."""
    refusal = refusal_of(text)
    for part in said:
        assert part in str(refusal)
    assert "rules/mine.toml" in str(refusal)
    assert refusal.exit_code == ExitCode.SETTINGS
    assert "Value error" not in str(refusal)


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ('inks = ["W", "C", "M", "Y"]', '"W" as the last'),
        ('inks = ["C", "C", "M", "Y", "W"]', "each ink once"),
        ('inks = ["C", "M", "K", "W"]', "at least"),
        ('inks = ["C", "M", "Y", "X", "W"]', "'C', 'M'"),
        ('margin = "300 mm"', "less than half the film width"),
        ("bits = 3", "1, 2 or 8"),
        ("drop_pl = { X = 3.0 }", "letter of an ink"),
        ("resolution = [720, 7]", "greater than or equal to 100"),
        ("speed_m2_h = { 4 = 0 }", "greater than 0"),
    ],
)
def test_a_printer_that_cannot_print_is_refused(tmp_path: Path, line: str, said: str) -> None:
    """Each fault names what was expected."""
    path = tmp_path / "printer.toml"
    path.write_text(f'name = "x"\nfilm_width = "600 mm"\n{line}\n', "utf-8")
    with pytest.raises(SettingsError) as refusal:
        load_printer(path)
    assert said in str(refusal.value)
    assert str(path) in str(refusal.value)


def test_what_is_not_toml_is_refused_with_the_place() -> None:
    """A quotation mark left open is found by its line."""
    assert "line 2" in str(refusal_of('title = "x"\ngarment = "#1b1b1d\n'))


def test_a_missing_or_unreadable_file_is_refused_with_what_to_do(tmp_path: Path) -> None:
    """No file, and a file that is not text."""
    with pytest.raises(SettingsError, match="missing"):
        RuleFile.load(tmp_path / "none.toml")
    (tmp_path / "latin.toml").write_bytes('title = "Hälfte"'.encode("latin-1"))
    with pytest.raises(SettingsError, match="UTF-8"):
        RuleFile.load(tmp_path / "latin.toml")
