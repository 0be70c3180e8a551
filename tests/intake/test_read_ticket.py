"""Tickets: the ticket file goes before the file name, the file name before the rule."""

from pathlib import Path

import pytest

from filmhand.intake.read_ticket import read_ticket
from filmhand.intake.ticket import Ticket
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


@pytest.mark.parametrize("text", ["copies = 'lots'", "copies = 0", "colour = 'red'", "not toml", '{"copies": ', 'width = "0 mm"'])
def test_a_ticket_that_cannot_be_followed_is_held(text: str) -> None:
    """Never guessed at: a person looks."""
    finding = read_ticket("R104_280mm_x3.png", ticket_file=text, rule=RULE)
    assert isinstance(finding, Finding)
    assert finding.severity is Severity.HOLD
    assert "ticket file" in str(finding.message)


def test_nonsense_in_a_matching_name_is_held() -> None:
    """A name that states no copies at all is not taken for the default."""
    finding = read_ticket("R104_280mm_x0.png", ticket_file=None, rule=RULE)
    assert isinstance(finding, Finding)
    assert "file name" in str(finding.message)
