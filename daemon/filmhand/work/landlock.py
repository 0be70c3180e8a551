"""Landlock: a process of Linux gives up rights to files and to the network for good (landlock(7); linux/landlock.h).

Three system calls, which the kernel promises to keep as they are. What the running kernel does not know is not asked of it.
"""

import ctypes
import os
import platform
from collections.abc import Iterable
from enum import IntFlag
from pathlib import Path
from typing import Final

# Numbers of the calls: the same on every architecture that has them (landlock_create_ruleset(2) and its neighbours).
_CREATE, _ADD_RULE, _RESTRICT_SELF = 444, 445, 446
_VERSION, _PATH_BENEATH = 1, 1
_PR_SET_NO_NEW_PRIVS: Final = 38  # prctl(2)


class Files(IntFlag):
    """LANDLOCK_ACCESS_FS_*: what may be done with files beneath a path."""

    EXECUTE = 1 << 0
    WRITE_FILE = 1 << 1
    READ_FILE = 1 << 2
    READ_DIR = 1 << 3
    REMOVE_DIR = 1 << 4
    REMOVE_FILE = 1 << 5
    MAKE_CHAR = 1 << 6
    MAKE_DIR = 1 << 7
    MAKE_REG = 1 << 8
    MAKE_SOCK = 1 << 9
    MAKE_FIFO = 1 << 10
    MAKE_BLOCK = 1 << 11
    MAKE_SYM = 1 << 12
    REFER = 1 << 13
    TRUNCATE = 1 << 14
    IOCTL_DEV = 1 << 15


READ: Final = Files.READ_FILE | Files.READ_DIR
"""Enough to read a file, or all that lies in a folder."""
WRITE: Final = (
    READ
    | Files.WRITE_FILE
    | Files.TRUNCATE
    | Files.MAKE_REG
    | Files.MAKE_DIR
    | Files.REMOVE_FILE
    | Files.REMOVE_DIR
    | Files.REFER
)
"""Enough to fill a folder with files and folders: no links, sockets, pipes or devices; no running of programs."""

_OF_A_FILE: Final = Files.EXECUTE | Files.WRITE_FILE | Files.READ_FILE | Files.TRUNCATE | Files.IOCTL_DEV
_SINCE: Final = ((1, (1 << 13) - 1), (2, Files.REFER), (3, Files.TRUNCATE), (5, Files.IOCTL_DEV))
_TCP_SINCE, _SCOPES_SINCE = 4, 6
_BIND_AND_CONNECT_TCP: Final = 0b11
_ABSTRACT_SOCKETS_AND_SIGNALS: Final = 0b11


class _Ruleset(ctypes.Structure):
    """struct landlock_ruleset_attr."""

    _fields_ = (("files", ctypes.c_uint64), ("net", ctypes.c_uint64), ("scoped", ctypes.c_uint64))


class _Beneath(ctypes.Structure):
    """struct landlock_path_beneath_attr: packed."""

    _pack_ = 1
    _fields_ = (("allowed", ctypes.c_uint64), ("parent", ctypes.c_int32))


def version() -> int:
    """The version of the interface that the running kernel offers; 0 where it offers none."""
    if platform.system() != "Linux":
        return 0
    try:
        return _call(_CREATE, None, 0, _VERSION)
    except OSError:
        return 0


def has_network(offered: int) -> bool:
    """Whether that version refuses TCP."""
    return offered >= _TCP_SINCE


def restrict(allowed: Iterable[tuple[Path, Files]] | None) -> None:
    """From here on this thread, and threads and processes that it begins, may do with files just what is `allowed`, and no TCP.

    None leaves files alone. Paths that are not there are passed over. Does nothing where the kernel offers nothing.
    OSError where the kernel offers it and refuses all the same.
    """
    offered = version()
    if offered == 0 or (allowed is None and not has_network(offered)):
        return
    known = Files(0) if allowed is None else _known(offered)
    net = _BIND_AND_CONNECT_TCP if has_network(offered) else 0
    scoped = _ABSTRACT_SOCKETS_AND_SIGNALS if offered >= _SCOPES_SINCE else 0
    attributes = _Ruleset(known, net, scoped)
    ruleset = _call(_CREATE, ctypes.byref(attributes), ctypes.sizeof(attributes) if offered >= _TCP_SINCE else 8, 0)
    try:
        for path, rights in allowed or ():
            _allow(ruleset, path, rights & known)
        no_new_privileges()
        _call(_RESTRICT_SELF, ruleset, 0)
    finally:
        os.close(ruleset)


def no_new_privileges() -> None:
    """No program that this process runs gets more rights than it has (prctl(2)); what Landlock and filters ask for first."""
    if _libc().prctl(_PR_SET_NO_NEW_PRIVS, ctypes.c_ulong(1), *(ctypes.c_ulong(0),) * 3) != 0:
        raise _error()


def _known(offered: int) -> Files:
    """Every right to files that the version knows: what is handled, and so refused where it is not allowed."""
    return Files(sum(int(rights) for since, rights in _SINCE if offered >= since))


def _allow(ruleset: int, path: Path, rights: Files) -> None:
    try:
        descriptor = os.open(path, os.O_PATH | os.O_CLOEXEC)
    except FileNotFoundError:
        return
    try:
        beneath = _Beneath(rights if path.is_dir() else rights & _OF_A_FILE, descriptor)
        _call(_ADD_RULE, ruleset, _PATH_BENEATH, ctypes.byref(beneath), 0)
    finally:
        os.close(descriptor)


def _call(number: int, *arguments: object) -> int:
    values = (ctypes.c_long(value) if isinstance(value, int) else value for value in arguments)
    result = int(_libc().syscall(ctypes.c_long(number), *values))
    if result < 0:
        raise _error()
    return result


def _libc() -> ctypes.CDLL:
    libc = ctypes.CDLL(None, use_errno=True)
    libc.syscall.restype = ctypes.c_long
    return libc


def _error() -> OSError:
    number = ctypes.get_errno()
    return OSError(number, os.strerror(number))
