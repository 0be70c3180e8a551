"""What `filmhand doctor` makes of what it saw: pure. Each finding says how it stands, what was seen, and what to do next."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import IntEnum
from typing import Final

from filmhand.errors import ExitCode

_FEW_FILES: Final = 1000


class State(IntEnum):
    """How it stands with something."""

    OK = 0
    WARN = 1
    """It works, and may not for ever."""
    WRONG = 2
    """The shop cannot work like this."""


@dataclass(frozen=True)
class Diagnosis:
    """One finding. `code` is the exit code that it gives where it is wrong."""

    what: str
    state: State
    said: str
    next_step: str = ""
    code: ExitCode = ExitCode.MACHINE


@dataclass(frozen=True)
class Folder:
    """A folder of the shop, as the user who asks may use it. Mount and kind are empty where the system does not tell."""

    path: str
    answers: bool = True
    """It said within a few seconds whether it is there."""
    exists: bool = True
    usable: bool = True
    """May be read, written and gone into."""
    mount: str = ""
    kind: str = ""
    network: bool = False
    read_only: bool = False


@dataclass(frozen=True)
class Disk:
    """A file system that the shop writes to."""

    path: str
    free_mib: int
    total_mib: int
    free_files: int | None = None
    """Names that it can still take; None where it has no such limit."""


@dataclass(frozen=True)
class JournalFacts:
    """The journal, as far as it could be read. `version` 0: there is none yet."""

    path: str
    version: int = 0
    known: int = 0
    """The version that this program writes."""
    faults: tuple[str, ...] = ()
    writable: bool = True
    last_event: datetime | None = None


@dataclass(frozen=True)
class Facts:
    """All that was seen."""

    user: str
    is_root: bool
    folders: tuple[Folder, ...]
    """Each that the shop needs, but those of `handed`."""
    staging: Folder
    handed: tuple[Folder, ...]
    """Output folders, to which sheets are renamed from staging."""
    disks: tuple[Disk, ...]
    least_mib: int
    journal: JournalFacts
    journal_folder: Folder
    settings_fault: str | None
    now: datetime
    made: datetime
    """When this program was installed: no clock that is right shows an earlier time."""
    zone: str
    running: bool | None
    beat_s: float | None
    """Seconds since the daemon last moved on; None where nothing says."""
    hangs_after_s: float
    watches: tuple[int, int] | None
    """Folders to be watched, and how many a user may watch; None where the system has no such limit."""
    versions: Mapping[str, str]
    written: str | None = None
    """Why nothing could be written to the state folder, where it was tried."""
    left_open: tuple[str, ...] = ()
    """What work on customers' files is not kept from on this system."""


def diagnose(facts: Facts) -> tuple[Diagnosis, ...]:
    """Every finding, in the order in which a person should mend them."""
    return (
        _user(facts),
        *_folders(facts),
        *_writing(facts),
        *_hand_over(facts),
        *_disks(facts),
        *_journal(facts),
        *_clock(facts),
        _settings(facts),
        _daemon(facts),
        *_watches(facts),
        _confined(facts),
        Diagnosis("versions", State.OK, ", ".join(f"{name} {version}" for name, version in facts.versions.items())),
    )


def exit_code(found: tuple[Diagnosis, ...]) -> ExitCode:
    """By the worst: that of the first wrong one; FOUND_FAULTS where there are only warnings."""
    wrong = next((one.code for one in found if one.state is State.WRONG), None)
    if wrong is not None:
        return wrong
    return ExitCode.FOUND_FAULTS if any(one.state is State.WARN for one in found) else ExitCode.OK


def _user(facts: Facts) -> Diagnosis:
    if facts.is_root:
        ask = "Ask as the service's user: sudo -u filmhand filmhand doctor SHOP"
        return Diagnosis("user", State.WARN, f"looked at as {facts.user}, who may do everything", ask)
    return Diagnosis("user", State.OK, f"looked at as {facts.user}")


def _folders(facts: Facts) -> Iterator[Diagnosis]:
    good = 0
    for folder in (*facts.folders, facts.staging, *facts.handed):
        fault = _fault_of(folder, facts.user)
        if fault is None:
            good += 1
        else:
            state = State.WARN if folder.answers and not folder.exists else State.WRONG
            yield Diagnosis("folder", state, f"{folder.path}: {fault[0]}", fault[1])
    yield Diagnosis("folders", State.OK, f"{good} can be read and written")


def _fault_of(folder: Folder, user: str) -> tuple[str, str] | None:
    """What is wrong with a folder, and what to do."""
    if not folder.answers:
        return "does not answer", "See whether its share is mounted and its server runs; the other folders go on meanwhile"
    if not folder.exists:
        return "is not there", "A share: mount it. filmhand run makes the folders of a new rule by itself"
    if folder.read_only:
        return (
            f"lies on {folder.mount}, which is mounted for reading only",
            "Mount it for writing; look whether the disk is failing",
        )
    if not folder.usable:
        return f"{user} may not read and write it", f"chown or chmod it, so that {user} may; a share: mend its mount options"
    return None


def _writing(facts: Facts) -> Iterator[Diagnosis]:
    if facts.written is not None:
        yield Diagnosis(
            "writing", State.WRONG, f"a file could not be written and renamed: {facts.written}", "Mend the disk first"
        )


def _hand_over(facts: Facts) -> Iterator[Diagnosis]:
    """A sheet reaches an output folder by one rename, which cannot leave its mount (rename(2), EXDEV)."""
    apart = [folder for folder in facts.handed if folder.exists and folder.mount != facts.staging.mount]
    for folder in apart:
        yield Diagnosis(
            "hand-over",
            State.WRONG,
            f"{folder.path} lies on {folder.mount}, staging on {facts.staging.mount}: sheets cannot be renamed there",
            "Mount the share at out/ itself, one for all hot folders, not below it",
        )
    if not apart:
        yield Diagnosis("hand-over", State.OK, "staging and the output folders lie on one mount")


def _disks(facts: Facts) -> Iterator[Diagnosis]:
    for disk in facts.disks:
        said = f"{disk.path}: {disk.free_mib} of {disk.total_mib} MiB free"
        if disk.free_mib < facts.least_mib:
            yield Diagnosis("space", State.WRONG, f"{said}, less than {facts.least_mib}: nothing new is begun", "Make room")
        elif disk.free_mib < 3 * facts.least_mib:
            yield Diagnosis("space", State.WARN, f"{said}; below {facts.least_mib} nothing new is begun", "Make room soon")
        else:
            yield Diagnosis("space", State.OK, said)
        if disk.free_files is not None and disk.free_files < _FEW_FILES:
            yield Diagnosis("space", State.WRONG, f"{disk.path}: room for {disk.free_files} more files (inodes)", "Remove files")


def _journal(facts: Facts) -> Iterator[Diagnosis]:
    journal, folder = facts.journal, facts.journal_folder
    wrong = ExitCode.JOURNAL
    if folder.network:
        said = f"{folder.path} lies on {folder.kind}, another computer's: SQLite's locks and log need a disk of this one"
        yield Diagnosis("journal", State.WRONG, said, "Move the shop to a local disk; hot folders and out/ may be shares", wrong)
    elif not folder.kind:
        yield Diagnosis("journal", State.WARN, "on what file system it lies is not known here", "It must be a local disk")
    elif folder.kind.startswith("fuse"):
        yield Diagnosis("journal", State.WARN, f"it lies on {folder.kind}", "Make sure that this is a disk of this computer")
    if journal.faults:
        next_step = "Stop filmhand, keep the folder .filmhand, and restore the last backup"
        yield Diagnosis("journal", State.WRONG, f"{journal.path}: {journal.faults[0]}", next_step, wrong)
    elif journal.version > journal.known:
        said = f"it is of version {journal.version}, this program knows {journal.known}"
        yield Diagnosis("journal", State.WRONG, said, "Run the newer filmhand that wrote it", wrong)
    elif not journal.writable:
        next_step = f"chown it and the files beside it to {facts.user}: a command was perhaps run as another user"
        yield Diagnosis(
            "journal", State.WRONG, f"{facts.user} may not write {journal.path} or a file beside it", next_step, wrong
        )
    elif 0 < journal.version < journal.known:
        said = f"sound; of version {journal.version}, it becomes {journal.known} at the next start"
        yield Diagnosis("journal", State.OK, said, "Make a backup before")
    else:
        yield Diagnosis("journal", State.OK, "sound" if journal.version else "not begun yet")


def _clock(facts: Facts) -> Iterator[Diagnosis]:
    said = f"{facts.now:%Y-%m-%d %H:%M} {facts.zone}"
    last = facts.journal.last_event
    if facts.now < facts.made:
        next_step = "Set the clock; a computer that forgets it needs a new battery, or a time server"
        yield Diagnosis("clock", State.WRONG, f"{said}, before this program was installed ({facts.made:%Y-%m-%d})", next_step)
    elif last is not None and last > facts.now + timedelta(minutes=1):
        said = f"{said}, and the journal's last event is of {last.astimezone(facts.now.tzinfo):%Y-%m-%d %H:%M}, later than that"
        yield Diagnosis("clock", State.WARN, said, "Set the clock. Nothing is lost by it: sheets may close early or late")
    else:
        yield Diagnosis("clock", State.OK, f"{said}; times of day in the rules are of this zone")


def _settings(facts: Facts) -> Diagnosis:
    if facts.settings_fault is not None:
        return Diagnosis("settings", State.WRONG, facts.settings_fault, "Mend it and save", ExitCode.SETTINGS)
    return Diagnosis("settings", State.OK, "every rule, printer, table and profile can be read")


def _daemon(facts: Facts) -> Diagnosis:
    if facts.running is None:
        return Diagnosis(
            "daemon", State.WARN, "whether one runs cannot be known: the lock file cannot be read", "Ask as its user"
        )
    if not facts.running:
        return Diagnosis(
            "daemon", State.WARN, "none runs in this shop", "Start it: systemctl start filmhand, or filmhand run SHOP"
        )
    if facts.beat_s is not None and facts.beat_s > facts.hangs_after_s:
        next_step = "Look at the log, and start it anew"
        return Diagnosis("daemon", State.WRONG, f"one runs, and has not moved on for {facts.beat_s / 60:.0f} min", next_step)
    return Diagnosis(
        "daemon", State.OK, "one runs" if facts.beat_s is None else f"one runs, it moved on {facts.beat_s:.0f} s ago"
    )


def _watches(facts: Facts) -> Iterator[Diagnosis]:
    """Watches of all programs of a user count together (inotify(7)), so half of them is too near."""
    if facts.watches is None:
        return
    wanted, limit = facts.watches
    if wanted * 2 > limit:
        said = f"{wanted} folders are to be watched and the system lets a user watch {limit} (fs.inotify.max_user_watches)"
        next_step = f"sysctl fs.inotify.max_user_watches={max(65536, 4 * wanted)}; until then files are found by listing alone"
        yield Diagnosis("events", State.WARN, said, next_step)
    else:
        yield Diagnosis("events", State.OK, f"{wanted} folders to watch, {limit} may be")


def _confined(facts: Facts) -> Diagnosis:
    """Whether a hole in a decoder would be met by the system too (docs/security.md)."""
    if not facts.left_open:
        return Diagnosis("confinement", State.OK, "work on customers' files touches what it needs, and no network")
    said = f"this system does not let us decide of work on customers' files: {', '.join(facts.left_open)}"
    next_step = (
        "Linux 6.7 or later with landlock among its security modules does; until then let the daemon's user reach nothing else"
    )
    return Diagnosis("confinement", State.WARN, said, next_step)
