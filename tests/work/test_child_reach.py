"""What each kind of work may touch: enough for every format that filmhand opens, and nothing of other jobs."""

import io
import zipfile
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import imagecodecs
import numpy as np
import pikepdf
import pytest
import tifffile
from PIL import Image

from filmhand.gang.sheet import Sheet
from filmhand.work.capped import Caps, Done, run_capped
from filmhand.work.lay_out import LayOutTask
from filmhand.work.make_sheet import MakeSheetTask
from filmhand.work.prepare import PrepareTask, prepare
from filmhand.work.reach import reach_of
from small_shop import picture
from work.plain_task import plain_task

CAPS = Caps(3 << 30, 120)


def _as(form: str, mode: str = "RGB") -> bytes:
    file = io.BytesIO()
    Image.open(io.BytesIO(picture(3))).convert(mode).save(file, form)
    return file.getvalue()


def _tiff(coding: str) -> bytes:
    file = io.BytesIO()
    tifffile.imwrite(file, np.asarray(Image.open(io.BytesIO(picture(3))).convert("RGB")), photometric="rgb", compression=coding)
    return file.getvalue()


def _pdf() -> bytes:
    """Lettering in a font that the file does not hold, so that the machine's are looked for."""
    document, file = pikepdf.new(), io.BytesIO()
    document.add_blank_page(page_size=(200, 100))
    font = pikepdf.Dictionary(Type=pikepdf.Name.Font, Subtype=pikepdf.Name.TrueType, BaseFont=pikepdf.Name("/DejaVuSans"))
    document.pages[0].Resources = pikepdf.Dictionary(Font=pikepdf.Dictionary(F=font))
    document.pages[0].Contents = pikepdf.Stream(document, b"BT 1 0 0 rg /F 60 Tf 10 30 Td (Club) Tj ET")
    document.save(file)
    return file.getvalue()


def _zip() -> bytes:
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w") as archive:
        archive.writestr("a.png", picture(4))
        archive.writestr("b.png", picture(5))
    return file.getvalue()


SVG = b"""<svg xmlns="http://www.w3.org/2000/svg" width="80mm" height="40mm" viewBox="0 0 80 40">
<text x="5" y="25" font-family="DejaVu Sans" font-size="20" fill="red">Club</text></svg>"""
FILES: dict[str, Callable[[], bytes]] = {
    "png": lambda: picture(1),
    "jpeg": lambda: _as("JPEG"),
    "cmyk": lambda: _as("JPEG", "CMYK"),
    "webp": lambda: _as("WEBP", "RGBA"),
    "avif": lambda: _as("AVIF", "RGBA"),
    "gif": lambda: _as("GIF"),
    "bmp": lambda: _as("BMP"),
    "tiff": lambda: _tiff("lzw"),
    "svg": lambda: SVG,
    "pdf": _pdf,
    "zip": _zip,
    "text": lambda: b"this is no artwork",
}


@pytest.fixture(scope="module")
def tables(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Tables that the tests share, as works of a shop do."""
    return tmp_path_factory.mktemp("tables")


def _task(folder: Path, data: bytes, tables: Path) -> PrepareTask:
    return plain_task(folder, data, cache=tables, garment="#1b1b1d", width="40 mm")


@pytest.mark.slow
@pytest.mark.parametrize("kind", FILES)
def test_confined_work_is_the_same_work(tmp_path: Path, tables: Path, kind: str) -> None:
    """Each format, with fonts of the machine: verdict, findings, figures and every byte as without confinement."""
    task = _task(tmp_path, FILES[kind](), tables)
    free, bound = (replace(task, target=tmp_path / name) for name in ("free", "bound"))
    outcomes = [run_capped(prepare, free, caps=CAPS), run_capped(prepare, bound, caps=CAPS, reach=reach_of(bound))]
    assert isinstance(outcomes[0], Done), outcomes[0]
    assert outcomes[0] == outcomes[1]
    assert _bytes(free.target) == _bytes(bound.target)


def _bytes(folder: Path) -> dict[str, bytes]:
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


@pytest.mark.slow
def test_the_colour_files_that_settings_name_are_read(tmp_path: Path, tables: Path) -> None:
    """A profile beside the rules, for artwork without one: found by a confined child, where any other file there is not."""
    task = _task(tmp_path, _as("JPEG"), tables)
    rule = task.rule.path
    rule.write_text(rule.read_text("utf-8") + '\n[colour]\nassume_rgb = "shop.icc"\n', "utf-8")
    (task.rule.base / "shop.icc").write_bytes(imagecodecs.cms_profile("adobergb"))
    task = replace(task, rule=type(task.rule).load(rule))
    assert task.rule.base / "shop.icc" in reach_of(task).reads
    outcome = run_capped(prepare, task, caps=CAPS, reach=reach_of(task))
    assert isinstance(outcome, Done), outcome
    assert "shop.icc" in str(outcome.value.report.findings)


def test_preparing_reaches_one_job(tmp_path: Path) -> None:
    """Its original and its folder; of the cache the tables, not the folder in which other jobs lie."""
    task = _task(tmp_path, b"x", tmp_path / "cache" / "tables")
    task = replace(task, printer=task.printer.model_copy(update={"profile": "own.inks"}))
    reach = reach_of(task)
    assert set(reach.reads) == {task.original, tmp_path / "own.inks", tmp_path / "own.inks.drift.json"}
    assert (reach.own, reach.shared) == (task.target, (tmp_path / "cache" / "tables",))


def test_laying_out_reads_its_designs(tmp_path: Path) -> None:
    """And fills no folder of its own."""
    task = _task(tmp_path, b"x", tmp_path / "tables")
    work = LayOutTask((("a", (1,), tmp_path / "a"),), task.printer, task.rule.general.gang, 1, task.cache)
    reach = reach_of(work)
    assert (reach.reads, reach.own, reach.shared) == ((tmp_path / "a",), None, (tmp_path / "tables",))


@pytest.mark.parametrize("is_lost", [False, True])
def test_a_sheet_reaches_originals_only_to_prepare_again(tmp_path: Path, is_lost: bool) -> None:
    """While the separation is there, its original is out of reach; once it is lost, that is read and a new one made beside."""
    task = replace(_task(tmp_path, b"x", tmp_path / "cache" / "tables"), target=tmp_path / "cache" / "job")
    if not is_lost:
        task.target.mkdir(parents=True)
    sheet = Sheet("s", 600, 100, ())
    work = MakeSheetTask(
        sheet,
        {},
        {"job": task},
        task.rule,
        task.printer,
        tmp_path,
        task.cache,
        tmp_path / "out",
        "",
        datetime(2031, 1, 1, tzinfo=UTC),
    )
    reach = reach_of(work)
    assert (task.original in reach.reads) is is_lost
    assert (task.target in reach.shared) is not is_lost
    assert (task.target.parent in reach.shared) is is_lost
    assert reach.own == tmp_path / "out"


def test_work_that_nobody_thought_of_has_no_reach() -> None:
    """Rather an error than all files."""
    with pytest.raises(TypeError):
        reach_of(object())
