"""A whole shop on a disk that fills and is freed: deferred, resumed without anybody's doing, nothing lost, no file blamed."""

import json
from pathlib import Path

from small_disk import run_on_small_disk
from small_shop import filmhand, picture

_MIB = 96

_SHOP = """
import atexit, json, signal, sqlite3, subprocess, time
shop = DISK / "shop"
shutil.copytree(sys.argv[2], shop)
plain = (shop / "shop.toml").read_text("utf-8")
log = shop / ".filmhand" / "logs" / "filmhand.jsonl"
def least_free(mib):
    (shop / "shop.toml").write_text(f"{plain}least_free_mib = {mib}\\n", "utf-8")
def drop(name):
    shutil.copyfile(sys.argv[3], shop / f".{name}")
    (shop / f".{name}").rename(shop / "in" / "small" / name)
def filmhand(*words):
    return [sys.executable, "-m", "filmhand", *words]
def start():
    daemon = subprocess.Popen(filmhand("run", str(shop)), stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    atexit.register(daemon.kill)
    return daemon
def until(condition):
    end = time.monotonic() + 90
    while not condition():
        assert time.monotonic() < end, log.read_text("utf-8")[-6000:]
        time.sleep(0.05)
def said(words):
    return log.exists() and words in log.read_text("utf-8", "replace")
def rows(query):
    with sqlite3.connect(f"file:{shop}/.filmhand/journal.sqlite?mode=ro", uri=True) as journal:
        return journal.execute(query).fetchall()
def stop(daemon):
    daemon.send_signal(signal.SIGTERM)
    assert daemon.wait(60) == 0
"""

_WATERMARK = (
    _SHOP
    + """
least_free(40)
fill(leave=30 << 20)
drop("A1_40mm_x2.png")
subprocess.run(filmhand("batch", str(shop)), check=True, capture_output=True)
left = sorted(path.name for path in (shop / "in" / "small").glob("A*"))
jobs, log_before = rows("SELECT * FROM job"), log.stat().st_size
daemon = start()
until(lambda: log.read_text("utf-8")[log_before:].count("nearly full"))
make_room()
until(lambda: list((shop / "done").glob("*/A1*")))
stop(daemon)
events = [json.loads(line)["event"] for line in log.read_text("utf-8")[log_before:].splitlines()]
print(json.dumps({"left": left, "jobs": jobs, "events": events}))
"""
)


def _prepared_shop(shop: Path, tmp_path: Path) -> tuple[Path, Path, Path]:
    """Where to mount, the shop to copy there, a picture to drop."""
    artwork, place = tmp_path / "artwork.png", tmp_path / "disk"
    artwork.write_bytes(picture(1, size=(1200, 1050)))  # as separation some 6 MiB: more than the ballast
    place.mkdir()
    return place, shop, artwork


def test_below_the_watermark_nothing_is_claimed_and_work_resumes_alone(shop: Path, tmp_path: Path) -> None:
    """30 MiB free where 40 are asked for: a batch leaves the file where it is; a daemon prints it once there is room."""
    place, shop, artwork = _prepared_shop(shop, tmp_path)
    found = json.loads(run_on_small_disk(place, _MIB, _WATERMARK, shop, artwork).splitlines()[-1])
    assert (found["left"], found["jobs"]) == (["A1_40mm_x2.png"], [])
    events = found["events"]
    begins = [place for place, event in enumerate(events) if "nearly full" in event]
    ends = [place for place, event in enumerate(events) if "room on the disk again" in event]
    assert len(begins) == len(ends) == 1
    assert begins[0] < ends[0] < events.index("claimed") < events.index("delivered")


_FULL = (
    _SHOP
    + """
least_free(0)
drop("A1_40mm_x2.png")
fill(leave=512 << 10)
daemon = start()
until(lambda: rows("SELECT 1 FROM event WHERE kind = 'attempt-deferred'"))
half = sorted(path.name for path in (shop / ".filmhand" / "cache").glob("*.part"))
fill()
assert daemon.poll() is None
make_room()
until(lambda: list((shop / "done").glob("*/A1*")))
stop(daemon)
print(json.dumps({
    "half": half,
    "attempt": rows("SELECT max(attempt) FROM job"),
    "failed": rows("SELECT count(*) FROM event WHERE kind = 'attempt-failed'"),
    "check": rows("PRAGMA integrity_check"),
    "sheets": len(list((shop / "out" / "small").glob("*/ticket.json"))),
    "spool": len(list((shop / ".filmhand" / "spool").iterdir())),
}))
print(subprocess.run(filmhand("status", str(shop)), capture_output=True, text=True, check=True).stdout)
"""
)


def test_a_full_disk_is_waited_out(shop: Path, tmp_path: Path) -> None:
    """No room for the separation, then none at all (ENOSPC of a real file system): put off, nothing half made left, printed."""
    filmhand("batch", shop)  # its journal is there, with ballast
    place, shop, artwork = _prepared_shop(shop, tmp_path)
    said = run_on_small_disk(place, _MIB, _FULL, shop, artwork)
    found = json.loads(next(line for line in said.splitlines() if line.startswith("{")))
    assert found == {"half": [], "attempt": [[1]], "failed": [[0]], "check": [["ok"]], "sheets": 1, "spool": 0}
    assert "delivered 2" in said
