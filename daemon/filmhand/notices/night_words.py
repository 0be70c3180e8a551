"""Every sentence of the night report's summary, of what waits, and of notices: for the shop's own people, in English."""

from collections.abc import Iterable
from datetime import time
from typing import Final

from filmhand.rules import CloseRules

_TAMED: Final = {ord("@"): "@\u200b", ord("<"): "<\u200b", ord("`"): "'"}
_LONGEST_NAME: Final = 120

TEST_TITLE: Final = "filmhand: a test"
TEST_BODY: Final = "If you can read this, notices of {shop} reach you here."
NO_ADDRESS: Final = (
    "Notices go nowhere (notify_from is {whence!s}). Set FILMHAND_NOTIFY for the daemon, or write notify.txt beside shop.toml"
    ' and notify_from = "file".'
)
NOT_ARRIVED: Final = "{missed} of {of} test notices did not arrive"
NOT_ARRIVED_DO: Final = "Check the address as its service's help and apprise's pages have it, the password, and the network"
SEVERAL_TITLE: Final = "{shop}: {count} things stop the line"
REPORT_TITLE: Final = "{shop}: the night to {until:%H:%M}"
AND_MORE: Final = "and {count} more: filmhand status {root}"
HELD_DO: Final = "Look at it, then: filmhand release or refuse SHOP {id}"
PREPARING: Final = "{files} to prepare"
NO_RULE: Final = "the rule or the printer that it was dropped for is gone"
COMPOSING: Final = "is laid out and is composed next"
HANDING_OVER: Final = "is whole and is handed over next"
LIST_WAITS: Final = "waits for {count} artworks that it names"


def tame(text: str) -> str:
    """A name that a stranger chose, for a chat: it calls nobody, opens no link's bracket, and is short."""
    text = text if len(text) <= _LONGEST_NAME else f"{text[:_LONGEST_NAME]}…"
    return text.translate(_TAMED)


def sheet_held(name: str, why: str) -> tuple[str, str]:
    """Title and words on a sheet that a person must decide about."""
    return (
        f"Sheet {name} is held",
        f"Why: {why}. Look at the printer and at out/, then: filmhand release SHOP {name} (go on with it)"
        f" or filmhand refuse SHOP {name} (it was printed, or must not be).",
    )


def attempts_spent(name: str, folder: str, job: str, why: str) -> tuple[str, str]:
    """Title and words on a file that no attempt got through."""
    return (
        f"{tame(name)} is set aside",
        f"{tame(why)} It lies in held/{folder}. Try again with: filmhand release SHOP {job};"
        f" send it back with: filmhand refuse SHOP {job}.",
    )


def settings_fault(why: str) -> tuple[str, str]:
    """Title and words on settings that cannot be followed."""
    return "The settings cannot be followed", f"The last good ones stay in force. {why}"


def journal_fault(why: str) -> tuple[str, str]:
    """Title and words on a journal that cannot be trusted or written."""
    return "filmhand has stopped: journal trouble", f"{why} Nothing more is done until it is started again."


def disk_short(places: Iterable[str]) -> tuple[str, str]:
    """Title and words on a disk that is nearly full. `places`: the shop's folders on it."""
    return (
        "The disk is nearly full",
        f"Less is free than least_free_mib of shop.toml asks for, on the disk of: {', '.join(places)}. Nothing new is begun until"
        " there is room; then work goes on by itself.",
    )


def closes(rules: CloseRules) -> str:
    """When an open sheet is closed, by its rule."""
    times = " or ".join(f"{clock:%H:%M}" for clock in rules.at if isinstance(clock, time))
    ways = [
        f"at {times}" if times else "",
        f"when its oldest copy has waited {rules.after / 60:.0f} min" if rules.after is not None else "",
        f"when it is {rules.length / 1000:.1f} m long" if rules.length is not None else "",
        f"{rules.before_due / 60:.0f} min before a copy is due" if rules.before_due is not None else "",
    ]
    said = ", ".join(way for way in ways if way)
    return f"closes {said}" if said else "closes when somebody says so: filmhand close SHOP NAME"
