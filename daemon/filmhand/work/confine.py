"""What a child process that works on a stranger's file may touch: it reads that file and what it needs, fills its one folder."""

import os
import site
import sys
import sysconfig
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import filmhand
from filmhand.work import landlock, seccomp

_FONTS: Final = ("~/.fonts", "~/.local/share/fonts", "/etc/fonts", "/var/cache/fontconfig", "~/.cache/fontconfig")
_SYSTEM: Final = (
    *("/usr", "/lib", "/lib32", "/lib64", "/etc/ld.so.cache", "/etc/localtime", "/dev/urandom", "/dev/zero"),
    *("/proc/cpuinfo", "/proc/meminfo", "/proc/sys/vm/overcommit_memory", "/sys/devices/system/cpu"),
)
"""Programs, libraries and their data; what libraries ask the machine about itself."""
_SINK: Final = "/dev/null"


@dataclass(frozen=True)
class Reach:
    """What one piece of work may touch, beside this installation, the system's libraries and its fonts."""

    reads: tuple[Path, ...] = ()
    """Files, or folders with all in them, to read."""
    own: Path | None = None
    """The one folder that it fills: made empty before the work begins, and counted."""
    shared: tuple[Path, ...] = ()
    """Folders in which it keeps what others use too."""


@dataclass(frozen=True)
class Offered:
    """What this machine offers to confine children with."""

    files: bool
    """Only what they need can be read or written (Landlock)."""
    network: bool
    """No sockets (a filter on system calls), or at least no TCP (Landlock, version 4 or later)."""
    programs: bool
    """They run no programs."""

    @property
    def missing(self) -> tuple[str, ...]:
        """What is not to be had here, in words; empty where everything is."""
        words = {"files": "which files they touch", "network": "that they use the network", "programs": "that they run programs"}
        return tuple(said for name, said in words.items() if not getattr(self, name))


def offered() -> Offered:
    """What this machine offers; for the log at the start, and for `filmhand doctor`."""
    version, has_filter = landlock.version(), seccomp.is_offered()
    return Offered(version > 0, has_filter or landlock.has_network(version), has_filter or version > 0)


def confine(reach: Reach | None) -> None:
    """Give up everything but the reach, in the child, before it opens what a stranger sent and before it begins a thread.

    None leaves files alone; there is no network for anybody. Where the system offers nothing, nothing happens.
    """
    if not sys.platform.startswith("linux"):
        return
    landlock.no_new_privileges()
    landlock.restrict(None if reach is None else tuple(_allowed(reach)))
    seccomp.restrict()
    if reach is not None and reach.own is not None:
        tempfile.tempdir = str(reach.own)


def _allowed(reach: Reach) -> Iterator[tuple[Path, landlock.Files]]:
    for path in (*_installation(), *map(Path, _SYSTEM), *(Path(name).expanduser() for name in _FONTS)):
        yield path, landlock.READ
    yield Path(_SINK), landlock.READ | landlock.Files.WRITE_FILE
    for path in reach.reads:
        yield path, landlock.READ
    for path in (*reach.shared, *(() if reach.own is None else (reach.own,))):
        yield path, landlock.WRITE


def _installation() -> set[Path]:
    """Where Python, its packages and filmhand lie, and where numba keeps compiled kernels: to read. Never the root folder."""
    names = {sys.prefix, sys.base_prefix, sys.exec_prefix, *sysconfig.get_paths().values(), *site.getsitepackages()}
    names |= {site.getusersitepackages(), os.environ.get("NUMBA_CACHE_DIR") or str(Path("~/.cache/numba").expanduser())}
    paths = {Path(name).absolute() for name in names if name} | {Path(path).absolute() for path in filmhand.__path__}
    return {path for path in paths if path != Path(path.anchor)}
