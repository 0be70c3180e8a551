"""A rule that changes while its jobs are in work: each goes by the version that it was claimed under."""

from datetime import UTC, datetime
from pathlib import Path

import pytest

from filmhand.journal import rule_texts
from filmhand.journal.journal import Journal
from filmhand.rules import RuleFile
from filmhand.service.rule_versions import rule_of
from filmhand.shop import House, ShopSettings
from some_records import a_job, a_sheet
from work.plain_task import PRINTER

NOW = datetime(2031, 5, 4, 22, 0, tzinfo=UTC)
PATH = Path("rules") / "dark.toml"
OLD, NEW = (RuleFile.parse(f'title = "t"\n[halftone]\nleast_dot = "{mm} mm"', PATH) for mm in (0.2, 0.3))


@pytest.fixture
def journal(tmp_path: Path) -> Journal:
    """A journal that has seen both versions."""
    journal = Journal.open(tmp_path / "j")
    rule_texts.keep(journal, [OLD])
    rule_texts.keep(journal, [OLD, NEW])
    return journal


HOUSE = House(ShopSettings(), PRINTER, {"dark": NEW})


def test_a_job_keeps_the_rule_it_was_claimed_under(journal: Journal) -> None:
    """As does a sheet the one that it was laid out by; what never said which goes by the rule as it is."""
    assert rule_of(journal, HOUSE, a_job(rule_digest=OLD.digest)).general.halftone.least_dot == 0.2
    assert rule_of(journal, HOUSE, a_job(rule_digest=NEW.digest)) is NEW
    assert rule_of(journal, HOUSE, a_sheet(facts={"rule": OLD.digest})).general == OLD.general
    assert rule_of(journal, HOUSE, a_sheet()) is NEW


def test_a_version_that_cannot_be_had_any_more(journal: Journal) -> None:
    """Never kept (a journal of before), or written with keys that this filmhand refuses: the rule as it is now."""
    assert rule_of(journal, HOUSE, a_job(rule_digest="0" * 64)) is NEW
    with journal.commit() as cursor:
        cursor.execute("INSERT INTO rule_text VALUES (?, ?)", ("1" * 64, 'title = "t"\nno_such_key = 1'))
    assert rule_of(journal, HOUSE, a_job(rule_digest="1" * 64)) is NEW
