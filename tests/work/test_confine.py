"""A child process reads its one file and fills its one folder. What it tries beyond that is refused by the system, not by us."""

import ctypes
import os
import pickle
import resource
import signal
import socket
import subprocess
import sys
import tempfile
import threading
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from filmhand.upkeep.doctor import State, diagnose
from filmhand.work import capped, confine, landlock, results, seccomp
from filmhand.work.capped import Caps, Cause, Done, Failed, run_capped
from filmhand.work.confine import Reach
from upkeep.test_doctor import WELL

CAPS = Caps(memory_bytes=3 << 30, seconds=30)

needs_files = pytest.mark.skipif(not confine.offered().files, reason="this kernel offers no Landlock")
needs_filter = pytest.mark.skipif(not seccomp.is_offered(), reason="no filter on system calls for this machine")


@pytest.fixture
def reach(tmp_path: Path) -> Reach:
    """An original to read, a folder to fill, a folder that is shared; beside them a secret and a folder of another job."""
    (tmp_path / "original").write_bytes(b"artwork")
    (tmp_path / "secret").write_bytes(b"another customer's")
    for name in ("tables", "other"):
        (tmp_path / name).mkdir()
    return Reach((tmp_path / "original",), tmp_path / "own", (tmp_path / "tables",))


def _refused(reach: Reach | None, work: Any, *arguments: Any) -> str:
    """The exception that work ended in."""
    outcome = run_capped(work, *arguments, caps=CAPS, reach=reach)
    assert isinstance(outcome, Failed), outcome
    return outcome.detail.strip().splitlines()[-1]


def _fill(reach: Reach) -> bytes:
    assert reach.own is not None
    (reach.own / "folder").mkdir()
    (reach.own / "folder" / "file").write_bytes(b"made")
    (reach.own / "folder" / "file").rename(reach.own / "file")
    (reach.own / "folder").rmdir()
    (reach.shared[0] / "table").write_bytes(b"shared")
    with tempfile.TemporaryFile() as file:
        file.write(b"scratch")
    return reach.reads[0].read_bytes()


def test_it_can_do_its_work(reach: Reach) -> None:
    """Its original is read, its folder filled, the shared folder too, and scratch files have a place."""
    assert run_capped(_fill, reach, caps=CAPS, reach=reach) == Done(b"artwork")
    assert reach.own is not None
    assert (reach.own / "file").read_bytes() == b"made"
    assert (reach.shared[0] / "table").read_bytes() == b"shared"


def _read(path: Path) -> bytes:
    return path.read_bytes()


def _list(path: Path) -> list[str]:
    return [entry.name for entry in path.iterdir()]


def _write(path: Path) -> None:
    path.write_bytes(b"x")


def _remove(path: Path) -> None:
    path.unlink()


def _link(path: Path) -> None:
    path.symlink_to("/etc/passwd")


def _move(source: Path, target: Path) -> None:
    source.rename(target)


@needs_files
@pytest.mark.parametrize(
    ("work", "names"),
    [
        (_read, ["secret"]),
        (_read, ["/etc/passwd"]),
        (_read, ["/proc/self/environ"]),
        (_list, [""]),
        (_list, ["/"]),
        (_list, [str(Path.home())]),
        (_write, ["elsewhere"]),
        (_write, ["other/made"]),
        (_write, ["original"]),
        (_write, [str(Path(confine.__file__).with_name("planted.py"))]),
        (_write, [tempfile.gettempdir() + "/filmhand-planted"]),
        (_remove, ["original"]),
        (_remove, ["secret"]),
        (_link, ["own/link"]),
        (_move, ["original", "own/original"]),
        (_move, ["secret", "own/secret"]),
    ],
)
def test_files_elsewhere_are_out_of_reach(reach: Reach, tmp_path: Path, work: Any, names: list[str]) -> None:
    """Read, list, write, remove, link and move, of another customer's, the system's and the program's own: EACCES or EXDEV."""
    before = {path: path.read_bytes() for path in tmp_path.iterdir() if path.is_file()}
    said = _refused(reach, work, *(tmp_path / name for name in names))
    assert said.startswith(("PermissionError", "OSError: [Errno 18]")), said
    assert {path: path.read_bytes() for path in tmp_path.iterdir() if path.is_file()} == before


def _read_in_a_thread(path: Path) -> list[str]:
    said: list[str] = []

    def read() -> None:
        try:
            said.append(path.read_text())
        except OSError as problem:
            said.append(type(problem).__name__)

    thread = threading.Thread(target=read)
    thread.start()
    thread.join()
    return said


@needs_files
def test_threads_are_confined_too(reach: Reach, tmp_path: Path) -> None:
    """The kernel confines a thread and what it begins: a thread that decodes is no way out."""
    assert run_capped(_read_in_a_thread, tmp_path / "secret", caps=CAPS, reach=reach) == Done(["PermissionError"])


def _connect(family: int, kind: int, address: Any) -> None:
    with socket.socket(family, kind) as sock:
        sock.settimeout(5)
        sock.connect(address)


@needs_filter
@pytest.mark.parametrize("is_confined", [True, False])
@pytest.mark.parametrize("kind", ["tcp", "udp", "unix"])
def test_no_socket_to_anywhere(reach: Reach, tmp_path: Path, kind: str, is_confined: bool) -> None:
    """A listener on this machine is not reached, by stream, datagram or local socket; we ourselves reach it."""
    family, sort = {"tcp": (socket.AF_INET, socket.SOCK_STREAM), "udp": (socket.AF_INET, socket.SOCK_DGRAM)}.get(
        kind, (socket.AF_UNIX, socket.SOCK_STREAM)
    )
    with socket.socket(family, sort) as listener:
        listener.bind(str(tmp_path / "s") if kind == "unix" else ("127.0.0.1", 0))
        if sort == socket.SOCK_STREAM:
            listener.listen()
        address = listener.getsockname()
        _connect(family, sort, address)
        said = _refused(reach if is_confined else None, _connect, family, sort, address)
        assert said.startswith("PermissionError"), said


@pytest.mark.skipif(not landlock.has_network(landlock.version()), reason="this kernel's Landlock knows no network")
def test_landlock_alone_refuses_tcp(tmp_path: Path) -> None:
    """Where there is no filter: a fresh process that only Landlock restricts cannot connect or listen; landlock(7), version 4."""
    script = (
        "import socket, sys\nfrom filmhand.work import landlock\nlandlock.restrict(None)\n"
        "for deed in ('connect', 'bind'):\n"
        "    with socket.socket() as sock:\n"
        "        try:\n            getattr(sock, deed)(('127.0.0.1', int(sys.argv[1]) if deed == 'connect' else 0))\n"
        "        except PermissionError:\n            print(deed, 'refused')\n"
    )
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        listener.listen()
        done = subprocess.run(
            [sys.executable, "-c", script, str(listener.getsockname()[1])], capture_output=True, text=True, check=True
        )
    assert done.stdout.split() == ["connect", "refused", "bind", "refused"]


def _run_program() -> int:
    return subprocess.run(["/bin/true"], check=False).returncode


@pytest.mark.skipif(not confine.offered().programs, reason="nothing here refuses programs")
def test_no_program_is_run(reach: Reach) -> None:
    """Not even one that does nothing."""
    assert _refused(reach, _run_program).startswith("PermissionError")


def _status() -> dict[str, str]:
    """What the kernel says of this process by prctl(2): no new privileges (39), the filter (21)."""
    libc = ctypes.CDLL(None)
    return {"privileges": str(libc.prctl(39, 0, 0, 0, 0)), "filter": str(libc.prctl(21, 0, 0, 0, 0))}


@pytest.mark.skipif(sys.platform != "linux", reason="prctl is Linux's")
def test_no_new_privileges(reach: Reach) -> None:
    """The kernel's own answer, for confined work and for other work."""
    for bounds in (reach, None):
        outcome = run_capped(_status, caps=CAPS, reach=bounds)
        assert isinstance(outcome, Done)
        assert outcome.value["privileges"] == "1"
        assert outcome.value["filter"] == ("2" if seccomp.is_offered() else "0")


def _kill(pid: int) -> None:
    os.kill(pid, signal.SIGTERM)


@pytest.mark.skipif(landlock.version() < 6, reason="this kernel's Landlock does not hold signals back")
def test_no_signal_to_others(reach: Reach) -> None:
    """A child cannot end another child, nor us; landlock(7), version 6."""
    with subprocess.Popen([sys.executable, "-c", "input()"], stdin=subprocess.PIPE) as other:
        assert _refused(reach, _kill, other.pid).startswith("PermissionError")
        assert other.poll() is None
        other.communicate(b"\n")


def _spin() -> None:
    while True:
        pass


def test_processor_time_is_capped() -> None:
    """A loop without end is stopped by the system long before the wall time."""
    assert run_capped(_spin, caps=Caps(3 << 30, 60, processor_seconds=0)) == Failed(Cause.TIME, "more than 1 s of the processor")


def _write_one(reach: Reach, size: int) -> None:
    assert reach.own is not None
    with (reach.own / "large").open("wb") as file:
        file.truncate(size)


def test_one_file_is_capped(reach: Reach) -> None:
    """Also one with nothing in it, which takes no room: its size is the limit (setrlimit(2), RLIMIT_FSIZE)."""
    outcome = run_capped(_write_one, reach, 3 << 20, caps=Caps(3 << 30, 30, output_bytes=1 << 20), reach=reach)
    assert outcome == Failed(Cause.OUTPUT, "more than 1 MiB")


def _write_many(reach: Reach) -> None:
    assert reach.own is not None
    for number in range(64):
        (reach.own / f"{number}").write_bytes(os.urandom(1 << 18))


def test_all_files_together_are_capped(reach: Reach) -> None:
    """64 files of 256 KiB, each allowed: together 16 MiB are too much for 1."""
    outcome = run_capped(_write_many, reach, caps=Caps(3 << 30, 30, output_bytes=1 << 20), reach=reach)
    assert outcome == Failed(Cause.OUTPUT, "more than 1 MiB")


def _limits() -> tuple[int, int]:
    return resource.getrlimit(resource.RLIMIT_CORE)[1], resource.getrlimit(resource.RLIMIT_NOFILE)[1]


def test_no_memory_image_and_few_files() -> None:
    """A crash leaves no image of customers' artwork; open files have a limit."""
    outcome = run_capped(_limits, caps=CAPS)
    assert isinstance(outcome, Done)
    assert outcome.value[0] == 0
    assert outcome.value[1] <= 4096


class _Evil:
    """Unpickled carelessly, it runs a command."""

    def __init__(self, path: Path) -> None:
        self.path = path

    def __reduce__(self) -> Any:
        return os.system, (f"touch {self.path}",)


def _evil(path: Path) -> Any:
    return _Evil(path)


def test_what_comes_back_runs_nothing(tmp_path: Path) -> None:
    """A result is data: one that names a function is refused, and the function is not called; plain pickle would call it."""
    assert "names posix.system" in _refused(None, _evil, tmp_path / "planted")
    assert not (tmp_path / "planted").exists()
    pickle.loads(pickle.dumps(_Evil(tmp_path / "planted")))
    assert (tmp_path / "planted").exists()


def _turn() -> int:
    os.kill(os.getpid(), signal.SIGKILL)
    return 0


def _abort() -> int:
    os.abort()


def _work(number: int) -> int:
    return sum(range(number))


def test_one_that_dies_takes_no_other_along() -> None:
    """Killed, aborted and out of time between others that are at work at the same time: those end with their results."""
    deeds: list[tuple[Any, ...]] = [(_work, 10), (_turn,), (_work, 20), (_abort,), (_spin,), (_work, 30)]
    with ThreadPoolExecutor(len(deeds)) as pool:
        waiting = [pool.submit(run_capped, *deed, caps=Caps(3 << 30, 8, processor_seconds=0.5)) for deed in deeds]
        ended = [one.result() for one in waiting]
    assert [one.value for one in ended if isinstance(one, Done)] == [45, 190, 435]
    assert [one.cause for one in ended if isinstance(one, Failed)] == [Cause.DIED, Cause.DIED, Cause.TIME]


def test_no_work_without_confinement(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the system offers confinement and refuses it all the same, the work is not done, and the reason comes back."""
    sent: list[bytes] = []

    class Pipe:
        send_bytes = sent.append

    ended: list[int] = []
    monkeypatch.setattr(capped, "_limit", lambda _: None)
    monkeypatch.setattr(capped, "confine", lambda _: (none for none in ()).throw(PermissionError("the kernel says no")))
    monkeypatch.setattr(os, "_exit", ended.append)
    done: list[int] = []
    held = {one: signal.getsignal(one) for one in capped._FOR_THE_PARENT}
    try:
        capped._child(Pipe(), done.append, (1,), (CAPS, None))  # type: ignore[arg-type]
    finally:
        for one, handler in held.items():
            signal.signal(one, handler)
    assert (done, ended) == ([], [0])
    kind, why, _ = results.unpacked(sent[0])
    assert kind == Cause.FAULT.name
    assert "the kernel says no" in why


def test_what_is_missing_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    """On a system that offers nothing the work goes on as it can, and `offered` says what is missing."""
    monkeypatch.setattr(landlock, "version", lambda: 0)
    monkeypatch.setattr(seccomp, "is_offered", lambda: False)
    assert len(confine.offered().missing) == 3
    monkeypatch.setattr(landlock, "version", lambda: 1)
    assert confine.offered().missing == ("that they use the network",)


def test_doctor_says_what_is_missing() -> None:
    """A warning that names it, and what to do; nothing of it where all is offered."""
    facts = replace(WELL, left_open=("which files they touch",))
    (warned,) = (one for one in diagnose(facts) if one.what == "confinement")
    assert warned.state is State.WARN
    assert "which files they touch" in warned.said
    (well,) = (one for one in diagnose(WELL) if one.what == "confinement")
    assert well.state is State.OK
