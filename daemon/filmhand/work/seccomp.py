"""A filter on system calls: no sockets of any kind, no programs, no looking into other processes (seccomp(2); bpf filters of
linux/filter.h). Landlock alone leaves datagrams and local sockets.
"""

import ctypes
import errno
import os
import platform
import struct
from dataclasses import dataclass
from typing import Final

_PR_GET_SECCOMP, _PR_SET_SECCOMP, _MODE_FILTER = 21, 22, 2  # prctl(2)
_ALLOW, _ERRNO, _KILL = 0x7FFF0000, 0x00050000, 0x80000000  # SECCOMP_RET_*, linux/seccomp.h
_NUMBER_AT, _MACHINE_AT = 0, 4  # struct seccomp_data
_LOAD, _EQUAL, _AT_LEAST, _RETURN = 0x20, 0x15, 0x35, 0x06  # BPF_LD|W|ABS, BPF_JMP|JEQ|K, BPF_JMP|JGE|K, BPF_RET|K
_X32: Final = 0x40000000  # a second table of the same calls on x86-64, which is refused whole


@dataclass(frozen=True)
class _Calls:
    """What a machine is called in filters (linux/audit.h), and its numbers of the calls that are refused (asm/unistd.h)."""

    machine: int
    refused: tuple[int, ...]


_KNOWN: Final = {
    # socket, execve, execveat, ptrace, process_vm_readv, process_vm_writev, io_uring_setup (it can make sockets too)
    "x86_64": _Calls(0xC000003E, (41, 59, 322, 101, 310, 311, 425)),
    "aarch64": _Calls(0xC00000B7, (198, 221, 281, 117, 270, 271, 425)),
}


class _Program(ctypes.Structure):
    """struct sock_fprog."""

    _fields_ = (("length", ctypes.c_ushort), ("filter", ctypes.c_void_p))


def is_offered() -> bool:
    """Whether this machine's kernel has filters and its numbers are known here."""
    if platform.system() != "Linux" or platform.machine() not in _KNOWN:
        return False
    return int(ctypes.CDLL(None).prctl(_PR_GET_SECCOMP, 0, 0, 0, 0)) >= 0


def restrict() -> None:
    """From here on this thread, and what it begins, gets EACCES for what is refused. `no_new_privileges` must have been said.

    Does nothing where it is not offered. OSError where it is, and the kernel refuses all the same.
    """
    if not is_offered():
        return
    code = _filter(_KNOWN[platform.machine()])
    buffer = ctypes.create_string_buffer(code, len(code))
    program = _Program(len(code) // 8, ctypes.addressof(buffer))
    libc = ctypes.CDLL(None, use_errno=True)
    if (
        libc.prctl(_PR_SET_SECCOMP, ctypes.c_ulong(_MODE_FILTER), ctypes.byref(program), ctypes.c_ulong(0), ctypes.c_ulong(0))
        != 0
    ):
        number = ctypes.get_errno()
        raise OSError(number, os.strerror(number))


def _filter(calls: _Calls) -> bytes:
    """Another machine's calls end the process; refused ones get an error; all others pass."""
    count = len(calls.refused)
    steps = [
        (_LOAD, 0, 0, _MACHINE_AT),
        (_EQUAL, 1, 0, calls.machine),
        (_RETURN, 0, 0, _KILL),
        (_LOAD, 0, 0, _NUMBER_AT),
        (_AT_LEAST, count + 1, 0, _X32),
        *((_EQUAL, count - place, 0, number) for place, number in enumerate(calls.refused)),
        (_RETURN, 0, 0, _ALLOW),
        (_RETURN, 0, 0, _ERRNO | errno.EACCES),
    ]
    return b"".join(struct.pack("=HBBI", *step) for step in steps)
