"""A person's word on held sheets: what is committed, and what stays in staging, also when a crash comes between."""

from pathlib import Path

import pytest

from filmhand import durable
from filmhand.gang.sheet import Placement
from filmhand.journal import jobs, sheets
from filmhand.journal.journal import Journal
from filmhand.journal.records import JobId, SheetRecord
from filmhand.journal.states import JobStage, SheetStage
from filmhand.service import answers
from filmhand.service.actions import Answer
from filmhand.shop import Shop
from some_records import NOW, a_job


@pytest.fixture
def shop(tmp_path: Path) -> Shop:
    """A shop's folders."""
    shop = Shop(tmp_path)
    shop.make_folders()
    return shop


@pytest.fixture
def journal(shop: Shop) -> Journal:
    """Its journal."""
    return Journal.open(shop.journal)


def _held(shop: Shop, journal: Journal, *, at_hand_over: bool) -> SheetRecord:
    """A sheet of one copy, held while staged or around its hand-over, its folder in staging."""
    jobs.claim(journal, jobs.New(a_job("j1")))
    jobs.prepared(journal, JobId("j1"), {}, findings=(), at=NOW)
    (sheet,) = sheets.by_stage(journal, SheetStage.OPEN)
    sheets.seal(journal, sheet, [Placement("j1", 1, 0, 0, 1, 1, 0)], film=sheets.Film(600, 1), rule="r", at=NOW)
    sheets.staged(journal, sheet, {}, at=NOW)
    if at_hand_over:
        sheets.delivering(journal, sheet.id, boot="b", at=NOW)
    sheets.hold(journal, _find(journal, sheet), "doubt", at=NOW)
    (shop.staging / sheet.name).mkdir()
    return _find(journal, sheet)


def _find(journal: Journal, sheet: SheetRecord) -> SheetRecord:
    found = sheets.find(journal, sheet.name)
    assert found is not None
    return found


@pytest.mark.parametrize(
    ("at_hand_over", "answer", "stage", "job_stage"),
    [
        (True, Answer.RELEASE, SheetStage.STAGED, JobStage.SHEETED),
        (True, Answer.REFUSE, SheetStage.DELIVERED, JobStage.DELIVERED),
        (False, Answer.RELEASE, SheetStage.STAGED, JobStage.SHEETED),
        (False, Answer.REFUSE, SheetStage.CANCELLED, JobStage.WAITING),
    ],
)
def test_answers_to_held_sheets(
    shop: Shop, journal: Journal, at_hand_over: bool, answer: Answer, stage: SheetStage, job_stage: JobStage
) -> None:
    """Yes: it is handed over. No: around the hand-over it counts as printed, before it its copies wait again."""
    sheet = _held(shop, journal, at_hand_over=at_hand_over)
    answers.answer_sheet(shop, journal, sheet, answer, at=NOW)
    job = jobs.find(journal, "j1")
    assert job is not None
    assert (_find(journal, sheet).stage, job.stage) == (stage, job_stage)
    assert (shop.staging / sheet.name).is_dir() is (stage is SheetStage.STAGED)


def test_a_crash_between_the_answer_and_the_removal(shop: Shop, journal: Journal, monkeypatch: pytest.MonkeyPatch) -> None:
    """The next start removes what was refused, and leaves what was not."""
    sheet = _held(shop, journal, at_hand_over=True)
    (shop.staging / "another").mkdir()

    def die(folder: Path) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr(durable, "remove_tree", die)
        with pytest.raises(KeyboardInterrupt):
            answers.answer_sheet(shop, journal, sheet, Answer.REFUSE, at=NOW)
    assert (shop.staging / sheet.name).is_dir()
    answers.drop_refused(shop, journal)
    assert [path.name for path in shop.staging.iterdir()] == ["another"]
