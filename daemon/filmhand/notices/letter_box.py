"""Where a shop's addresses for notices are, by its settings."""

from collections.abc import MutableMapping

from filmhand.notices import addresses
from filmhand.notices.addresses import Address
from filmhand.shop import Shop, ShopSettings, Whence


class LetterBox:
    """The addresses as they are now: the file is read anew for every notice, so that a password that was changed is followed."""

    def __init__(self, shop: Shop, environment: MutableMapping[str, str]) -> None:
        self._shop = shop
        self._of_environment = addresses.take_from_environment(environment)
        self._whence = Whence.NOWHERE

    def follow(self, settings: ShopSettings) -> None:
        """Go by these settings from here on."""
        self._whence = settings.notify_from

    def __call__(self) -> tuple[Address, ...]:
        """The addresses. SettingsError where they cannot be had now."""
        if self._whence is Whence.FILE:
            return addresses.read_file(self._shop.root)
        return self._of_environment if self._whence is Whence.ENVIRONMENT else ()
