"""A shop: one installation's folder tree and settings."""

from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from enum import StrEnum
from pathlib import Path
from typing import Any, Final, Self

from pydantic import Field
from pydantic_settings import BaseSettings, PydanticBaseSettingsSource, SettingsConfigDict

from filmhand import settings_file
from filmhand.errors import NotFoundError, SettingsError
from filmhand.intake.wardrobe import NO_TABLES, Entry, Garment, Named, Place, Tables, parse_named
from filmhand.language import ENGLISH, Language, load_language
from filmhand.rule_values import Clock, Seconds
from filmhand.rules import Printer, RuleFile, load_printer

TABLES: Final = "tables"
"""The part of the cache that several works share."""


class Whence(StrEnum):
    """Where the addresses for notices are kept."""

    ENVIRONMENT = "environment"
    FILE = "file"
    NOWHERE = "nowhere"


class ShopSettings(BaseSettings):
    """shop.toml. An environment variable FILMHAND_KEY goes before the file, so that a service unit can set one."""

    model_config = SettingsConfigDict(frozen=True, extra="forbid", env_prefix="FILMHAND_", validate_default=False)

    name: str = "our shop"
    """What the shop is called on notes and reports."""
    contact: str = ""
    """What stands at the foot of notes instead of the name alone, such as whom to call."""
    language: str = "en"
    """Language of notes, where a ticket names no other: `en`, `de`, `es`, or one with a catalogue in the shop's `languages/`."""
    listing: Seconds = 5.0
    """How often the folders are listed anew; events only make it sooner."""
    quiet: Seconds = 2.0
    """A file that looks finished is taken when it has not changed for this long."""
    patience: Seconds = 30.0
    """The same for a file that looks unfinished (no end marker, zeros at its end)."""
    listing_limit: Seconds = 10.0
    """A hot folder that takes longer to be listed is shown offline, and the others go on without it."""
    workers: int = Field(default=2, ge=1, le=64)
    """Files worked on at once, each in a process of its own."""
    memory_mib: int = Field(default=3072, ge=512)
    """Most memory that work on one file may use."""
    seconds_per_file: float = Field(default=300.0, gt=0)
    """Longest time that work on one file may take."""
    output_mib: int = Field(default=16384, ge=256)
    """Most that work on one file may write."""
    attempts: int = Field(default=3, ge=1, le=10)
    """How often a file may fail before it is set aside for a person."""
    least_free_mib: int = Field(default=1024, ge=0)
    """Room on the disk below which nothing new is begun; what is finished is still delivered, and work goes on by itself."""
    cache_mib: int = Field(default=20480, ge=64)
    """Size of the cache: what can be made again goes, least lately used first, but for what jobs under way need."""
    keep_done_days: int = Field(default=0, ge=0)
    """How many days originals and reports stay under done/; 0: for ever."""
    keep_done_mib: int = Field(default=0, ge=0)
    """How large done/ may be: whole days go, the oldest first, never today; 0: as large as may be."""
    keep_journal_days: int = Field(default=400, ge=0)
    """How long after its end a job is forgotten; 0: never."""
    cut_off: Clock = Field(default="06:00", validate_default=True)
    """When the night's film must be printed: what `filmhand forecast` goes by."""
    printing_hours: float = Field(default=8.0, gt=0, le=24)
    """Hours a day that the printer prints, for the forecast of the coming week."""

    report_at: tuple[Clock, ...] = Field(default=("06:30",), validate_default=True)
    """Times of day at which the running daemon writes a report on what happened since the last one, and sends it to those who
    get notices. Empty: never."""
    notify_from: Whence = Whence.ENVIRONMENT
    """Where the addresses are to which notices go: `environment` (the variable FILMHAND_NOTIFY, none if it is not set), `file`
    (`notify.txt` beside this file, which only the daemon's user may read) or `nowhere`. They hold passwords."""

    @classmethod
    def settings_customise_sources(
        cls,
        settings_cls: type[BaseSettings],  # noqa: ARG003 -- the library's signature
        init_settings: PydanticBaseSettingsSource,
        env_settings: PydanticBaseSettingsSource,
        dotenv_settings: PydanticBaseSettingsSource,  # noqa: ARG003 -- the library's signature
        file_secret_settings: PydanticBaseSettingsSource,  # noqa: ARG003 -- the library's signature
    ) -> tuple[PydanticBaseSettingsSource, ...]:
        """The environment first, then what shop.toml says."""
        return env_settings, init_settings


@dataclass(frozen=True)
class Shop:
    """Where everything of a shop lies. `root` is absolute."""

    root: Path

    @property
    def inbox(self) -> Path:
        """Hot folders, one a rule."""
        return self.root / "in"

    @property
    def held(self) -> Path:
        """Jobs that wait for a person."""
        return self.root / "held"

    @property
    def rejects(self) -> Path:
        """Jobs that could not be printed."""
        return self.root / "rejects"

    @property
    def out(self) -> Path:
        """Delivered sheets, for the print controller."""
        return self.root / "out"

    @property
    def done(self) -> Path:
        """Originals of what was delivered, by date."""
        return self.root / "done"

    @property
    def languages(self) -> Path:
        """The shop's own catalogues of sentences, laid over those that come with filmhand; it may do without."""
        return self.root / "languages"

    @property
    def printers(self) -> Path:
        """Files of further printers; the shop may do without."""
        return self.root / "printers"

    @property
    def watched(self) -> tuple[Path, ...]:
        """Folders in which something that changes is something to do."""
        return self.inbox, self.held, self.requests, self.root / "rules"

    def handed_over(self) -> frozenset[str]:
        """Names of what lies in the output folders of hot folders, or one deeper (a printer's own): sheets not taken."""
        return frozenset(path.name for pattern in ("*/*", "*/*/*") for path in self.out.glob(pattern) if path.is_dir())

    def printer_base(self, name: str) -> Path:
        """The folder of a printer's file, from which paths in it start."""
        return self.printers if name else self.root

    @property
    def staging(self) -> Path:
        """Sheets not yet handed over, on the same mount as `out`, in a hidden folder that no controller watches."""
        return self.out / ".filmhand-staging"

    @property
    def state(self) -> Path:
        """The program's own."""
        return self.root / ".filmhand"

    @property
    def spool(self) -> Path:
        """Originals that we own, by job id."""
        return self.state / "spool"

    @property
    def cache(self) -> Path:
        """What can be made again: separations, tables, tiles."""
        return self.state / "cache"

    @property
    def tables(self) -> Path:
        """The part of the cache that several works share: colour tables, tiles, finished layouts."""
        return self.cache / TABLES

    @property
    def logs(self) -> Path:
        """Log files, one JSON object a line."""
        return self.state / "logs"

    @property
    def requests(self) -> Path:
        """What the command line asks of a running daemon, one file a request."""
        return self.state / "requests"

    @property
    def journal(self) -> Path:
        """The durable record."""
        return self.state / "journal.sqlite"

    @property
    def folders(self) -> Path:
        """What is remembered of the hot folders and the output folder: which have a marker, which are offline."""
        return self.state / "folders.json"

    @property
    def ballast(self) -> Path:
        """Room kept for the journal, for when the disk is full."""
        return self.state / "ballast"

    @property
    def lock(self) -> Path:
        """Held by the one daemon of this shop."""
        return self.state / "lock"

    @property
    def heartbeat(self) -> Path:
        """When the daemon last moved on."""
        return self.state / "heartbeat.json"

    @classmethod
    def at(cls, root: Path) -> Self:
        """The shop in a folder. NotFoundError where there is none."""
        root = root.absolute()
        if not (root / "shop.toml").is_file():
            raise NotFoundError("There is no shop here", file=root, next_step=f"Make one with: filmhand new {root}")
        return cls(root)

    def hot_folders(self) -> tuple[str, ...]:
        """Names of the hot folders: every rule has one."""
        return tuple(sorted(path.stem for path in (self.root / "rules").glob("*.toml")))

    def make_folders(self) -> None:
        """Every folder of the shop, so that a person finds where to drop things."""
        for folder in (self.spool, self.cache, self.tables, self.logs, self.requests, self.done):
            folder.mkdir(parents=True, exist_ok=True)
        shared = [self.staging]
        for name in self.hot_folders():
            for parent in (self.held, self.rejects):
                (parent / name).mkdir(parents=True, exist_ok=True)
            shared += [self.inbox / name, self.out / name]
            for word in ("release", "refuse"):
                (self.held / name / word).mkdir(exist_ok=True)
        for folder in shared:
            with suppress(OSError):  # a share that is not there is shown offline, and the others go on
                folder.mkdir(parents=True, exist_ok=True)


@dataclass(frozen=True)
class House:
    """All settings of a shop as they stood when read: one consistent set."""

    settings: ShopSettings
    printer: Printer
    """The shop's own, of `printer.toml`."""
    rules: Mapping[str, RuleFile]
    tables: Tables = NO_TABLES
    language: Language = ENGLISH
    """Of notes, where the ticket names no other."""
    others: Mapping[str, Printer] = field(default_factory=dict)
    """Further printers by the names of their files in `printers/`."""

    @property
    def printers(self) -> Mapping[str, Printer]:
        """Every printer as jobs and sheets name them: the shop's own has the empty name."""
        return {"": self.printer, **self.others}


def load_house(shop: Shop) -> House:
    """Settings, printer, every rule and what the shop has names for. SettingsError names the file, the line and the key."""
    path = shop.root / "shop.toml"
    text = settings_file.read(path)
    values: dict[str, Any] = settings_file.parse(text, path)
    settings = settings_file.validated(ShopSettings, values, text, path)
    rules = {name: RuleFile.load(shop.root / "rules" / f"{name}.toml") for name in shop.hot_folders()}
    if not rules:
        raise SettingsError("This shop has no rules", file=shop.root / "rules", next_step="Put a rule file there")
    printer, tables = load_printer(shop.root / "printer.toml"), load_tables(shop.root)
    others = {path.stem: load_printer(path) for path in sorted(shop.printers.glob("*.toml"))}
    for rule in rules.values():
        _check_printers(rule, printer, others)
    return House(settings, printer, rules, tables, load_language(settings.language, shop.languages), others)


def _check_printers(rule: RuleFile, printer: Printer, others: Mapping[str, Printer]) -> None:
    """SettingsError where a rule names a printer that the shop has not, or film that does not fit one of its printers."""
    gang = rule.general.gang
    unknown = [name for name in gang.printers if name not in others]
    if unknown:
        known = ", ".join(others) or "none yet"
        raise SettingsError(
            f"The key gang.printers names {unknown[0]!r}, and the shop's printers/ has no such file ({known})",
            file=rule.path,
            next_step=f"Write printers/{unknown[0]}.toml, or name another",
        )
    narrowest = min((others[name].film_width for name in gang.printers), default=printer.film_width)
    if any(width > narrowest for width in gang.films):
        raise SettingsError(
            f"The key gang.films names {max(gang.films):g} mm, and the printer takes film of {narrowest:g} mm at most",
            file=rule.path,
            next_step="Name narrower film, or correct film_width in the printer file",
        )


def load_tables(folder: Path) -> Tables:
    """The garments, placements and colours of the shop in a folder, each of which it may do without. SettingsError as above."""
    garments, places = _named(Garment, folder / "garments.toml"), _named(Place, folder / "placements.toml")
    colours = folder / "colours.toml"
    if not colours.exists() or not settings_file.parse(settings_file.read(colours), colours):
        return Tables(garments, places)
    from filmhand.colour.named import NamedColour  # noqa: PLC0415 -- it loads libraries that commands do without where there are none

    return Tables(garments, places, _named(NamedColour, colours))


def _named(kind: type[Entry], path: Path) -> Named[Entry]:
    return parse_named(kind, settings_file.read(path), path) if path.exists() else Named()
