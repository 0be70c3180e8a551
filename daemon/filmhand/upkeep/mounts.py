"""Which file system a folder lies on, from the kernel's table of mounts (proc_pid_mountinfo(5)). Reading it is for the caller."""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import PurePosixPath
from typing import Final

_NETWORK: Final = {
    *("nfs", "nfs4", "cifs", "smb3", "smbfs", "ncpfs", "afs", "coda", "ceph", "lustre", "gfs2", "ocfs2", "gpfs", "beegfs"),
    *("9p", "davfs", "fuse.davfs2", "fuse.sshfs", "fuse.rclone", "fuse.glusterfs", "fuse.cephfs", "fuse.s3fs", "fuse.curlftpfs"),
}
"""File systems whose files lie on another computer, or are shared with one; common practice, from the kernel's names of them."""

_OCTAL: Final = re.compile(r"\\([0-7]{3})")
_BEFORE_DASH: Final = 6
"""Fields that every line has before its optional ones."""


@dataclass(frozen=True)
class Mount:
    """A line of the table."""

    number: int
    point: PurePosixPath
    kind: str
    """The file system's name, such as `ext4`."""
    read_only: bool

    @property
    def is_network(self) -> bool:
        """Whether another computer has the files, as far as the name tells."""
        return self.kind in _NETWORK


def parse(table: str) -> tuple[Mount, ...]:
    """The mounts of a table in the form of /proc/self/mountinfo. Lines that are none are left out."""
    found = []
    for line in table.splitlines():
        before, dash, after = line.partition(" - ")
        fields, kind = before.split(" "), after.split(" ")
        if dash and len(fields) >= _BEFORE_DASH and fields[0].isdigit():
            read_only = "ro" in fields[5].split(",") or "ro" in after.rsplit(" ", 1)[-1].split(",")
            found.append(Mount(int(fields[0]), PurePosixPath(_plain(fields[4])), kind[0], read_only))
    return tuple(found)


def mount_of(path: PurePosixPath, mounts: Iterable[Mount]) -> Mount | None:
    """The mount that an absolute path without links lies on: the deepest; of several on one point the last, which hides them."""
    holding = [mount for mount in mounts if path.is_relative_to(mount.point)]
    return max(enumerate(holding), key=lambda pair: (len(pair[1].point.parts), pair[0]), default=(0, None))[1]


def _plain(text: str) -> str:
    """Blanks and the like stand as octal escapes in the table."""
    return _OCTAL.sub(lambda match: chr(int(match[1], 8)), text)
