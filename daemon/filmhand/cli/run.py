"""`filmhand run SHOP`: the daemon."""

import os
from functools import partial
from pathlib import Path

import structlog

from filmhand.notices.letter_box import LetterBox
from filmhand.notices.night_desk import NightDesk, told_if_journal_fails
from filmhand.notices.postman import Postman
from filmhand.service import logs, loop, reload
from filmhand.service.clock import SystemClock, boot_id
from filmhand.service.getting_ready import get_ready
from filmhand.service.notify_manager import Manager, Pulse
from filmhand.service.told import Told
from filmhand.service.watch import watching
from filmhand.shop import Shop

_log = structlog.get_logger()


def run(root: Path) -> None:
    """Until SIGTERM or SIGINT: files under way are finished, nothing new is begun. SIGHUP: settings are read anew."""
    shop = Shop.at(root)
    settings = reload.Watch(shop)
    house = reload.load(shop)
    logs.set_up(shop.logs, terminal=True)
    clock = SystemClock()
    pulse = Pulse(Manager.from_environment(os.environ, pid=os.getpid()), shop.heartbeat, boot=boot_id())
    with (
        Postman(LetterBox(shop, os.environ), clock=clock) as postman,
        told_if_journal_fails(shop, house, postman, clock=clock),
        loop.hand_for(shop, house, clock, onlooker=partial(NightDesk, shop, office=postman, clock=clock)) as hand,
    ):
        get_ready(house)
        told = Told(settings, hand.bell)
        told.listen()
        with watching(shop.watched, hand.bell.ring):
            _log.info("watching", shop=str(shop.root), hot_folders=list(house.rules))
            loop.run(hand, settings=settings, ended=told.to_end, pulse=pulse, clock=clock)
    _log.info("stopped")
