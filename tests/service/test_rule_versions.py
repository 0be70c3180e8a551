"""A rule that changes while its jobs are in work: each goes by the version that it was claimed under."""

from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from filmhand.intake.ticket import Ticket
from filmhand.journal import rule_texts
from filmhand.journal.journal import Journal
from filmhand.journal.records import Job, JobId, SheetId, SheetRecord
from filmhand.journal.states import JobStage, SheetStage
from filmhand.rules import RuleFile
from filmhand.service.rule_versions import rule_of
from filmhand.shop import House, ShopSettings
from service.plain_task import PRINTER

NOW = datetime(2031, 5, 4, 22, 0, tzinfo=UTC)
PATH = Path("rules") / "dark.toml"
OLD, NEW = (RuleFile.parse(f'title = "t"\n[halftone]\nleast_dot = "{mm} mm"', PATH) for mm in (0.2, 0.3))


def _job(digest: str) -> Job:
    return Job(
        id=JobId("j"), seq=1, folder="dark", name="a.png", digest="d", size_bytes=1, stage=JobStage.WAITING, attempt=0,
        approved=False, copies=1, ticket=Ticket(), arrived=NOW, since=NOW, rule_digest=digest,
    )  # fmt: skip


def _sheet(**facts: Any) -> SheetRecord:
    return SheetRecord(SheetId(1), "s", "dark", SheetStage.SEALED, 0, False, NOW, NOW, facts=facts)


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
    assert rule_of(journal, HOUSE, _job(OLD.digest)).general.halftone.least_dot == 0.2
    assert rule_of(journal, HOUSE, _job(NEW.digest)) is NEW
    assert rule_of(journal, HOUSE, _sheet(rule=OLD.digest)).general == OLD.general
    assert rule_of(journal, HOUSE, _sheet()) is NEW


def test_a_version_that_cannot_be_had_any_more(journal: Journal) -> None:
    """Never kept (a journal of before), or written with keys that this filmhand refuses: the rule as it is now."""
    assert rule_of(journal, HOUSE, _job("0" * 64)) is NEW
    with journal.commit() as cursor:
        cursor.execute("INSERT INTO rule_text VALUES (?, ?)", ("1" * 64, 'title = "t"\nno_such_key = 1'))
    assert rule_of(journal, HOUSE, _job("1" * 64)) is NEW
