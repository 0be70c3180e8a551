"""Which charts there are for a printer, and making one by its kind."""

from collections.abc import Callable

from filmhand.colour.chart.grid import grid, sector_chart
from filmhand.colour.chart.kinds import Kind
from filmhand.colour.chart.model import Chart, Wanted
from filmhand.colour.chart.pressing import choke_ladder, least, screen_ladder
from filmhand.colour.chart.printing import nozzle_check, registration
from filmhand.colour.chart.strip import control_strip
from filmhand.colour.chart.wedges import ink_limit, linearisation, white_opacity
from filmhand.colour.sectors import sectors
from filmhand.rules import Printer, UnderbaseRules


def usual_kinds(printer: Printer) -> tuple[Kind, ...]:
    """All that set a printer up, in order: of the two charts for an ink model, the one that suits its inks."""
    spared = Kind.SECTORS if len(sectors(printer.colours)) == 1 else Kind.GRID
    return tuple(kind for kind in Kind if kind is not spared)


def chart(kind: Kind, wanted: Wanted, *, printer: Printer, underbase: UnderbaseRules) -> Chart:
    """A chart for a printer. SettingsError where what is wanted of it cannot be."""
    inks, name = tuple(str(ink) for ink in printer.inks), printer.name
    makers: dict[Kind, Callable[[], Chart]] = {
        Kind.NOZZLES: lambda: nozzle_check(inks, printer=name, resolution=printer.resolution),
        Kind.REGISTRATION: lambda: registration(inks, printer=name, resolution=printer.resolution),
        Kind.INK_LIMIT: lambda: ink_limit(inks, wanted, printer=name),
        Kind.LINEARISATION: lambda: linearisation(inks, wanted, printer=name),
        Kind.LEAST: lambda: least(inks, printer=name, island_choke_mm=underbase.island_choke),
        Kind.CHOKE: lambda: choke_ladder(inks, printer=name),
        Kind.SCREENS: lambda: screen_ladder(inks, printer=name),
        Kind.WHITE: lambda: white_opacity(wanted, printer=name),
        Kind.GRID: lambda: grid(inks, wanted, printer=name),
        Kind.SECTORS: lambda: sector_chart(inks, wanted, printer=name),
        Kind.STRIP: lambda: control_strip(inks, wanted, printer=name),
    }
    return makers[kind]()
