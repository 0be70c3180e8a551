"""Whether a trace of system calls survives a power cut: bytes are synced before they are renamed, names before they are told.

A disk may keep a rename and lose the bytes, or the name itself, that were not synced before (fsync(2), rename(2); Pillai and
others, "All file systems are not created equal", OSDI 2014). From a trace by `strace -f -y` this finds

* a file, or one inside a folder, that is renamed with bytes that were not synced since they were written;
* a commit of the journal while a name that the same process moved is not synced in its folder;
* a source removed from a hot folder before the journal that tells of its copy is synced.

A file counts as written from when it is opened for writing, for what is written through memory is in no trace.
"""

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

CALLS = (
    "openat,write,pwrite64,writev,pwritev,ftruncate,fallocate,copy_file_range,sendfile,"
    "rename,renameat,renameat2,link,linkat,unlink,unlinkat,fsync,fdatasync"
)
_LINE = re.compile(r"^(?P<process>\d+) +(?P<call>\w+)\((?P<rest>.*)$")
_RESUMED = re.compile(r"^(?P<process>\d+) +<\.\.\. (?P<call>\w+) resumed>(?P<rest>.*)$")
_DESCRIPTOR = re.compile(r"^(?P<number>\d+)<(?P<path>[^>]*)>")
_RESULT = re.compile(r"\) += (?P<result>-?\d+)(?:<(?P<path>[^>]*)>)?")
_QUOTED = re.compile(r'"((?:[^"\\]|\\.)*)"')
_BUILDING = "/.filmhand-building/"
"""A folder for what is on its way into a place or out of one: its own names need not last."""
_UNFINISHED = " <unfinished ...>"
_FOR_WRITING = re.compile(r"O_WRONLY|O_RDWR|O_CREAT|O_TRUNC")
_WRITES = {"write", "pwrite64", "writev", "pwritev", "ftruncate", "fallocate"}
_COPIES = {"copy_file_range", "sendfile"}


def joined(lines: Iterable[str]) -> Iterator[tuple[str, str, str]]:
    """Process, call and what follows its bracket; a call that another interrupted in the trace comes where it ended."""
    begun: dict[str, str] = {}
    for line in lines:
        if (match := _LINE.match(line)) is not None:
            rest = match["rest"]
            if rest.endswith(_UNFINISHED):
                begun[match["process"]] = rest.removesuffix(_UNFINISHED)
            else:
                yield match["process"], match["call"], rest
        elif (match := _RESUMED.match(line)) is not None:
            yield match["process"], match["call"], begun.pop(match["process"], "") + match["rest"]


@dataclass
class Disk:
    """What of the shop is not on the disk yet for sure."""

    shop: str
    unsynced: set[str] = field(default_factory=set)
    """Files with bytes that may be lost."""
    names: dict[str, set[str]] = field(default_factory=dict)
    """By process: names that it gave and that may be lost."""
    untold: set[str] = field(default_factory=set)
    """Copies of sources that no synced journal tells of."""
    commits: int = 0
    renames: int = 0
    faults: list[str] = field(default_factory=list)

    def follow(self, process: str, call: str, rest: str) -> None:
        """One call that ended well; others are passed over."""
        result = _RESULT.search(rest)
        if result is None or result["result"].startswith("-"):
            return
        descriptor, quoted = _DESCRIPTOR.match(rest), _QUOTED.findall(rest)
        if call == "openat" and _FOR_WRITING.search(rest) and result["path"]:
            self._written(result["path"])
        elif call in _WRITES and descriptor is not None:
            self._written(descriptor["path"])
        elif call in _COPIES:
            self._written(re.findall(r"\d+<([^>]*)>", rest)[int(call == "copy_file_range")])
        elif call in ("fsync", "fdatasync") and descriptor is not None:
            self._synced(process, descriptor["path"])
        elif call in ("rename", "renameat", "renameat2", "link", "linkat") and len(quoted) > 1:
            self._named(process, *quoted[:2], moves=call.startswith("rename"))
        elif call in ("unlink", "unlinkat") and quoted:
            folder = f"{descriptor['path']}/" if descriptor is not None else ""
            self._removed(process, folder + quoted[0])

    def _written(self, path: str) -> None:
        if path.startswith(self.shop) and "/logs/" not in path:
            self.unsynced.add(path)

    def _synced(self, process: str, path: str) -> None:
        if path.endswith("journal.sqlite-wal"):
            self.commits += 1
            self.faults += [
                f"the journal is committed before the name {path} is synced" for path in sorted(self.names.pop(process, ()))
            ]
            self.untold.clear()
        self.unsynced.discard(path)
        for process_names in self.names.values():
            process_names.difference_update([name for name in process_names if _folder(name) == path])

    def _named(self, process: str, source: str, target: str, *, moves: bool) -> None:
        if not target.startswith(self.shop):
            return
        self.renames += 1
        lost = sorted(path for path in self.unsynced if path == source or path.startswith(f"{source}/"))
        self.faults += [f"{path} is renamed to {target} before it is synced" for path in lost]
        given = self.names.setdefault(process, set())
        if moves:
            self.unsynced.difference_update(lost)
            inside = {name for name in given if name == source or name.startswith(f"{source}/")}
            given ^= inside | {target + name.removeprefix(source) for name in inside}
        if _BUILDING not in target:
            given.add(target)
        if "/spool/" in target and not target.endswith(".part"):
            self.untold.add(target)

    def _removed(self, process: str, path: str) -> None:
        if path.startswith(f"{self.shop}/in/") and self.untold:
            self.faults.append(f"{path} is removed before a synced journal tells of its copy")
        self.unsynced.discard(path)
        self.names.get(process, set()).discard(path)


def _folder(path: str) -> str:
    return path.rpartition("/")[0]


def read(lines: Iterable[str], shop: str) -> Disk:
    """Follow a whole trace."""
    disk = Disk(shop)
    for process, call, rest in joined(lines):
        disk.follow(process, call, rest)
    return disk
