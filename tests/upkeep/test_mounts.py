"""The kernel's table of mounts, read as proc_pid_mountinfo(5) says, compared with what other tools make of it."""

import os
import shutil
import subprocess
from pathlib import Path, PurePosixPath

import pytest

from filmhand.upkeep.mounts import mount_of, parse

# The manual page's own example line, then a share on a folder with a blank, and a bind mount over part of it.
TABLE = r"""36 35 98:0 /mnt1 /mnt/parent rw,noatime master:1 - ext3 /dev/root rw,errors=continue
40 36 0:52 / /mnt/parent/hot\040folders ro,relatime - cifs //nas/in rw,vers=3.1.1
41 40 8:1 /o /mnt/parent/hot\040folders/out rw - ext4 /dev/sda1 rw
not a line of it
"""


def test_the_manual_pages_line() -> None:
    """Mount point, kind and options lie where the page puts them, optional fields or none."""
    parent, share, bound = parse(TABLE)
    assert (parent.number, str(parent.point), parent.kind, parent.read_only, parent.is_network) == (
        36, "/mnt/parent", "ext3", False, False,
    )  # fmt: skip
    assert (str(share.point), share.kind, share.read_only, share.is_network) == ("/mnt/parent/hot folders", "cifs", True, True)
    assert (bound.kind, bound.is_network) == ("ext4", False)


@pytest.mark.parametrize(
    ("path", "number"),
    [("/mnt/parent/hot folders/out/x", 41), ("/mnt/parent/hot folders/outer", 40), ("/mnt/parent/hot", 36), ("/mnt", None)],
)
def test_the_deepest_mount_holds_a_path(path: str, number: int | None) -> None:
    """By whole names, not by letters."""
    mount = mount_of(PurePosixPath(path), parse(TABLE))
    assert (mount.number if mount else None) == number


def test_a_mount_over_a_mount_hides_it() -> None:
    """The kernel lists them in the order in which they were made."""
    over = TABLE + "50 36 0:9 / /mnt/parent rw - tmpfs tmpfs rw\n"
    mount = mount_of(PurePosixPath("/mnt/parent/x"), parse(over))
    assert mount is not None and mount.kind == "tmpfs"


@pytest.mark.outside
@pytest.mark.parametrize("path", ["/", "/proc", "/dev/shm", "/tmp"])
def test_this_machine_as_findmnt_sees_it(path: str) -> None:
    """util-linux' findmnt names the same mount point and file system for paths of the machine that the test runs on."""
    findmnt, table = shutil.which("findmnt"), Path("/proc/self/mountinfo")
    if findmnt is None or not table.exists() or not Path(path).is_dir():
        pytest.skip("findmnt (Debian package util-linux) or the path is not here")
    done = subprocess.run(
        [findmnt, "-n", "-r", "-o", "TARGET,FSTYPE", "-T", path], capture_output=True, text=True, check=True
    ).stdout.splitlines()
    mount = mount_of(PurePosixPath(os.path.realpath(path)), parse(table.read_text("utf-8")))
    assert mount is not None
    assert done[-1].split() == [str(mount.point), mount.kind]
