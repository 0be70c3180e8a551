"""The colour files that rules name: looked at when the rules are read, and read for each artwork."""

from pathlib import Path
from typing import Any, Final

from filmhand.artwork.profile import Assumed, Profile
from filmhand.colour.choose import assumed_profile, device_link
from filmhand.colour.littlecms import Space
from filmhand.errors import SettingsError
from filmhand.rules import ColourRules, Ink, Printer, RuleFile
from filmhand.separation.linked import Linked
from filmhand.shop import House

_CMYK: Final = (Ink.CYAN, Ink.MAGENTA, Ink.YELLOW, Ink.BLACK)


def assumed_by(rules: ColourRules, *, base: Path) -> Assumed:
    """The profiles for artwork that names none. SettingsError where one is missing or does not suit."""
    return Assumed(_profile(rules.assume_rgb, Space.RGB, base), _profile(rules.assume_cmyk, Space.CMYK, base))


def link_of(rules: ColourRules, *, printer: Printer, base: Path) -> Linked | None:
    """The device link that separates. SettingsError where it is missing, or suits neither RGB nor the printer."""
    if rules.link is None:
        return None
    link = device_link(rules.link, base=base)
    if not set(_CMYK) <= set(printer.colours):
        raise SettingsError(
            f"A device link to CMYK cannot drive the inks {', '.join(printer.colours)}",
            file=base / rules.link,
            next_step='Remove the line "link" from the rule, or make C, M, Y and K the printer\'s inks',
        )
    made_for = _profile(rules.assume_rgb, Space.RGB, base)
    return Linked(link, None if made_for is None else made_for.icc)


def check_colour_files(rule: RuleFile, *, printer: Printer) -> None:
    """SettingsError where a file that a rule names under [colour], or under [[when]], is missing or does not suit."""
    assumed_by(rule.general.colour, base=rule.base)
    link_of(rule.general.colour, printer=printer, base=rule.base)
    for _, changes in rule.cases:
        colour: dict[str, Any] = changes.get("colour", {})
        if colour.keys() & {"assume_rgb", "assume_cmyk"}:
            raise SettingsError(
                "A profile is assumed before it is known how wide the print is, so [[when]] cannot say which",
                file=rule.path,
                next_step="Name it under [colour] and save",
            )
        if "link" in colour:
            rules = rule.general.colour.model_copy(update={"link": colour["link"]})
            link_of(rules, printer=printer, base=rule.base)


def check_every_rule(house: House) -> None:
    """The same of every rule of a shop, for each printer that it may print on."""
    for rule in house.rules.values():
        for name in rule.general.gang.printer_names:
            check_colour_files(rule, printer=house.printers[name])


def _profile(name: str | None, space: Space, base: Path) -> Profile | None:
    return None if name is None else Profile(Path(name).name, assumed_profile(name, space=space, base=base))
