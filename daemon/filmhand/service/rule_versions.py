"""Which version of its rule a job or a sheet goes by: the one it was claimed, or laid out, under."""

from functools import lru_cache
from pathlib import Path

import structlog

from filmhand.errors import SettingsError
from filmhand.journal import rule_texts
from filmhand.journal.journal import Journal
from filmhand.journal.records import Job, SheetRecord
from filmhand.rules import RuleFile
from filmhand.shop import House

_log = structlog.get_logger()


def rule_of(journal: Journal, house: House, what: Job | SheetRecord) -> RuleFile:
    """Its own version while that can be had; the rule as it stands now where it was never kept, or cannot be read any more."""
    now = house.rules[what.folder]
    if what.rule_digest in {"", now.digest}:
        return now
    text = rule_texts.text_of(journal, what.rule_digest)
    try:
        return now if text is None else _parsed(text, now.path)
    except SettingsError as problem:  # written for an earlier filmhand
        _log.warning("its rule cannot be read any more, it goes by the rule as it is now", folder=what.folder, why=str(problem))
        return now


@lru_cache(maxsize=64)
def _parsed(text: str, path: Path) -> RuleFile:
    return RuleFile.parse(text, path)
