"""The rules that jobs were claimed under, word for word, by the SHA-256 of their text: rule files may change meanwhile."""

from collections.abc import Iterable

from filmhand.journal.journal import Journal
from filmhand.rules import RuleFile


def keep(journal: Journal, rules: Iterable[RuleFile]) -> None:
    """Remember rules before anything is claimed under them."""
    with journal.commit() as cursor:
        cursor.executemany(
            "INSERT INTO rule_text (digest, text) VALUES (?, ?) ON CONFLICT DO NOTHING",
            [(rule.digest, rule.text) for rule in rules],
        )


def text_of(journal: Journal, digest: str) -> str | None:
    """The text of a rule; None where it was never kept."""
    return next((str(row["text"]) for row in journal.rows("SELECT text FROM rule_text WHERE digest = ?", digest)), None)
