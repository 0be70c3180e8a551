"""Tickets: the ticket file goes before the file name, the file name before the rule; the shop's names are looked up."""

from pathlib import Path

import pytest

from filmhand.intake.read_ticket import read_ticket
from filmhand.intake.ticket import Ticket
from filmhand.intake.wardrobe import Garment, Place, Tables, parse_named
from filmhand.preflight.finding import Finding, Severity
from filmhand.rules import RuleFile

RULE = RuleFile.parse(
    """
title = "t"
garment = "#1b1b1d"
[ticket]
filename = '(?P<order>[^_]+)_(?P<width>[\\d.]+(mm|in))_x(?P<copies>\\d+)'
copies = 2
""",
    Path("dark.toml"),
).general
PLACED = RuleFile.parse(
    """
title = "t"
[ticket]
filename = '(?P<order>[^_]+)_(?P<placement>[a-z-]+)_(?P<garment>[a-z-]+)'
[size]
width = "280 mm"
""",
    Path("placed.toml"),
).general
TABLES = Tables(
    parse_named(Garment, '["navy tee"]\ncolour = "#1d2a44"\n["black tee"]\ncolour = "#1b1b1d"', Path("garments.toml")),
    parse_named(
        Place,
        '["left chest"]\nwidth = "100 mm"\nheight = "90 mm"\nalso = ["Brust links"]\n[sleeve]\nwidth = "80 mm"',
        Path("placements.toml"),
    ),
)


def test_the_file_name_says_it() -> None:
    """Order, width and copies by the rule's named groups; inches become mm; the garment is the rule's."""
    ticket = read_ticket("R104_11in_x3.png", ticket_file=None, rule=RULE)
    assert isinstance(ticket, Ticket)
    assert (ticket.order, ticket.copies, ticket.garment) == ("R104", 3, "#1b1b1d")
    assert ticket.width == pytest.approx(279.4)


def test_the_rule_says_the_rest() -> None:
    """A name that does not match leaves the rule's defaults."""
    ticket = read_ticket("holiday.png", ticket_file=None, rule=RULE)
    assert isinstance(ticket, Ticket)
    assert (ticket.copies, ticket.width, ticket.order) == (2, None, None)


@pytest.mark.parametrize(
    "text", ['copies = 5\nheight = "12 cm"', '{"copies": 5, "height": "120 mm"}', '\ufeffcopies = 5\nheight="120mm"']
)
def test_a_ticket_file_goes_first(text: str) -> None:
    """TOML or JSON; a size in it is the whole size, so the width in the file name does not come on top."""
    ticket = read_ticket("R104_280mm_x3.png", ticket_file=text, rule=RULE)
    assert isinstance(ticket, Ticket)
    assert (ticket.copies, ticket.height, ticket.width, ticket.order) == (5, 120, None, "R104")


@pytest.mark.parametrize(
    "text",
    [
        "copies = 'lots'",
        "copies = 0",
        "colour = 'red'",
        "not toml",
        '{"copies": ',
        'width = "0 mm"',
        "garment = 'black'",
        "garment = '#12'",
        "language = 'Deutsch, bitte'",
        "due = 'soon'",
        f'width = "{"9" * 400} mm"',
        f'{{"copies": {"9" * 5000}}}',
        "garment_name = 'x'",
        "is_boxed = true",
        '{"a":' * 100_000,
    ],
)
def test_a_ticket_that_cannot_be_followed_is_held(text: str) -> None:
    """Never guessed at: a person looks. What is looked up is not written in a ticket."""
    finding = read_ticket("R104_280mm_x3.png", ticket_file=text, rule=RULE)
    assert isinstance(finding, Finding)
    assert finding.severity is Severity.HOLD
    assert "ticket file" in str(finding.message)


def test_a_refusal_says_what_is_written_and_what_is_expected() -> None:
    """The key, the value as written, cut short where it is long, and an example of what would do."""
    said = str(_held(read_ticket("a.png", ticket_file=f'width = "{"9" * 500} ell"', rule=RULE)).message)
    assert "width" in said
    assert "280 mm" in said
    assert "9999…" in said
    assert len(said) < 250


def test_nonsense_in_a_matching_name_is_held() -> None:
    """A name that states no copies at all is not taken for the default."""
    finding = read_ticket("R104_280mm_x0.png", ticket_file=None, rule=RULE)
    assert isinstance(finding, Finding)
    assert "file name" in str(finding.message)


@pytest.mark.parametrize("name", ["navy tee", "Navy  Tee", "NAVY-TEE", "navy_tee", " navy tee "])
def test_a_garment_by_its_name(name: str) -> None:
    """Capitals, spaces and dashes do not matter; the ticket has the colour and the shop's own name."""
    ticket = _ticket(read_ticket("a.png", ticket_file=f'garment = "{name}"', rule=RULE, tables=TABLES))
    assert (ticket.garment, ticket.garment_name) == ("#1d2a44", "navy tee")


def test_a_garment_nobody_has_is_asked_about() -> None:
    """The finding names those that look like it, and not the others."""
    said = str(_held(read_ticket("a.png", ticket_file='garment = "navy tea"', rule=RULE, tables=TABLES)).message)
    assert "“navy tea”" in said
    assert "navy tee" in said
    assert "black tee" not in said


def test_colour_and_name_of_a_garment_stay_together() -> None:
    """A colour in the ticket file does not get the name of the garment in the file name."""
    ticket = _ticket(read_ticket("R1_sleeve_navy-tee.png", ticket_file='garment = "#AA0000"', rule=PLACED, tables=TABLES))
    assert (ticket.garment, ticket.garment_name) == ("#AA0000", None)


@pytest.mark.parametrize("word", ["left chest", "Brust links", "BRUST-LINKS"])
def test_a_placement_gives_the_size(word: str) -> None:
    """Instead of the rule's, by any of its words; the ticket has the shop's own word and says that it is a box."""
    ticket = _ticket(read_ticket("a.png", ticket_file=f'placement = "{word}"', rule=PLACED, tables=TABLES))
    assert (ticket.placement, ticket.width, ticket.height, ticket.is_boxed) == ("left chest", 100, 90, True)


def test_a_placement_in_the_file_name() -> None:
    """And a garment in it, with dashes for spaces."""
    ticket = _ticket(read_ticket("R1_left-chest_black-tee.png", ticket_file=None, rule=PLACED, tables=TABLES))
    assert (ticket.width, ticket.garment_name, ticket.order) == (100, "black tee", "R1")


def test_a_stated_size_goes_before_the_placements() -> None:
    """And is not a box; also for a placement that the shop does not know."""
    for word, name in (("left chest", "left chest"), ("hem", "hem")):
        text = f'placement = "{word}"\nwidth = "55 mm"'
        ticket = _ticket(read_ticket("a.png", ticket_file=text, rule=PLACED, tables=TABLES))
        assert (ticket.placement, ticket.width, ticket.height, ticket.is_boxed) == (name, 55, None, False)


def test_a_placement_nobody_knows_is_asked_about_where_no_size_is_stated() -> None:
    """The rule's size is not for it: a chest print at the rule's 280 mm would be film for the bin."""
    said = str(_held(read_ticket("a.png", ticket_file='placement = "lft chest"', rule=PLACED, tables=TABLES)).message)
    assert "“lft chest”" in said
    assert "left chest" in said


def test_a_shop_without_a_table_takes_any_word_for_a_placement() -> None:
    """As text for people."""
    ticket = _ticket(read_ticket("a.png", ticket_file='placement = "hem"', rule=PLACED))
    assert (ticket.placement, ticket.width, ticket.is_boxed) == ("hem", None, False)


@pytest.mark.parametrize(
    ("text", "due"),
    [
        ("due = 2031-03-14", "2031-03-14T23:59:00"),
        ('{"due": "2031-03-14"}', "2031-03-14T23:59:00"),
        ("due = 2031-03-14T18:00:00", "2031-03-14T18:00:00"),
    ],
)
def test_a_date_alone_means_the_days_end(text: str, due: str) -> None:
    """What is due on the 14th is not late on the 14th."""
    ticket = _ticket(read_ticket("a.png", ticket_file=text, rule=RULE))
    assert ticket.due is not None
    assert ticket.due.isoformat() == due


@pytest.mark.parametrize(("written", "code"), [("DE", "de"), ("es", "es"), ("pt_BR", "pt-BR"), ("zh-Hant-TW", "zh-Hant-TW")])
def test_the_customers_language_is_a_code(written: str, code: str) -> None:
    """As RFC 5646 writes them; the examples are its own or of its kind."""
    assert _ticket(read_ticket("a.png", ticket_file=f'language = "{written}"', rule=RULE)).language == code


def _ticket(read: Ticket | Finding) -> Ticket:
    assert isinstance(read, Ticket), str(read.message)
    return read


def _held(read: Ticket | Finding) -> Finding:
    assert isinstance(read, Finding)
    assert read.severity is Severity.HOLD
    return read
