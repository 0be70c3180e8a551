"""The loop: look, decide, do, wait to be woken. The daemon and the batch take the same path."""

from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager

import structlog

from filmhand.errors import SettingsError
from filmhand.journal.ballast import Ballast
from filmhand.journal.journal import Journal
from filmhand.service import reload
from filmhand.service.clock import Clock
from filmhand.service.decide import Mode
from filmhand.service.hand import Hand
from filmhand.service.lock import ShopLock
from filmhand.service.notify_manager import Pulse
from filmhand.service.onlooker import Onlooker
from filmhand.shop import House, Shop

_log = structlog.get_logger()


@contextmanager
def hand_for(shop: Shop, house: House, clock: Clock, *, onlooker: Callable[[Journal], Onlooker] | None = None) -> Iterator[Hand]:
    """The one hand of a shop, tidied up after whatever happened before. ShopBusyError when another has it.

    `onlooker`: who tells people, made once the journal is open; without one nobody is told, and no report is written at its hour.
    """
    shop.make_folders()
    ballast = Ballast(shop.ballast)
    with (
        ShopLock(shop.lock),
        Journal.open(shop.journal, ballast) as journal,
        ThreadPoolExecutor(house.settings.workers, thread_name_prefix="work") as pool,
    ):
        ballast.make()
        hand = Hand(shop, house, journal, pool=pool, clock=clock)
        if onlooker is not None:
            hand.onlooker = onlooker(journal)
        hand.tidy_up()
        yield hand


def run(hand: Hand, *, settings: reload.Watch, ended: Callable[[], bool], pulse: Pulse, clock: Clock) -> None:
    """The daemon: until `ended` says so. Work under way is then finished, and nothing new is begun.

    `settings`: made before the hand's were read. `pulse` is told whenever something was looked at or done, and not while
    nothing moves.
    """
    hand.on_moved = lambda: pulse.moved(now=clock.monotonic())
    pulse.ready(now=clock.monotonic())
    while not ended():
        if settings.is_due():
            _read_anew(hand)
        acted = hand.step(Mode.DAEMON) + hand.keep_house()
        hand.on_moved()
        pulse.says(_doing(hand))
        if acted == 0:
            _wait(hand, min(hand.house.settings.listing, pulse.longest_wait))
    pulse.stopping()
    _log.info("stopping", under_way=len(hand.under_way))
    hand.finish()


def batch(hand: Hand, *, clock: Clock, told: Callable[[Hand], None]) -> None:
    """Prepare what is there, close every sheet, end. `told` is called after each step, to show progress.

    What keeps changing, or cannot be moved, for ten times the patience is left where it is.
    """
    give_up_at = clock.monotonic() + 10 * hand.house.settings.patience
    while True:
        acted = hand.step(Mode.BATCH)
        told(hand)
        if acted == 0 and hand.keep_house():
            continue
        if acted:
            give_up_at = clock.monotonic() + 10 * hand.house.settings.patience
        elif hand.is_at_rest or (clock.monotonic() > give_up_at and not hand.under_way):
            return
        else:
            _wait(hand, hand.house.settings.listing)


def carry_out_answers(hand: Hand) -> None:
    """What a person asked for, and the filing that follows from it; no work is begun."""
    while hand.step(Mode.ANSWERS):
        pass


def _doing(hand: Hand) -> str:
    """What a person who asks the service manager reads."""
    if hand.under_way:
        return f"Working on {len(hand.under_way)}: files or sheets."
    return f"Waiting for {hand.settling} to settle." if hand.settling else "Nothing to do; watching the hot folders."


def _wait(hand: Hand, longest: float) -> None:
    """Until woken, or until files that are settling may have settled."""
    quiet = hand.house.settings.quiet
    hand.bell.wait(min(longest, max(0.05, quiet / 2)) if hand.settling else longest)


def _read_anew(hand: Hand) -> None:
    """New settings once they can be followed; until then the last good ones stay in force, the fault is said, people are told."""
    try:
        hand.follow(reload.load(hand.shop))
        fault = None
        _log.info("settings read anew")
    except SettingsError as problem:
        fault = str(problem)
        _log.error("settings cannot be followed, the last good ones stay in force", why=fault)
    if hand.onlooker is not None:
        hand.onlooker.settings_refused(fault)
