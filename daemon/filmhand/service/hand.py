"""The hand: looks at the shop, asks decide.py what to do, and does it. The journal is touched from this one thread only."""

import json
from collections.abc import Callable
from concurrent.futures import Executor, Future, wait
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

import structlog

from filmhand import durable
from filmhand.delivery import publish
from filmhand.delivery.sheet_ticket import TICKET
from filmhand.errors import FilmhandError, JournalError
from filmhand.gang.sheet import copies_on
from filmhand.intake.away import OUT, place_of
from filmhand.journal import jobs, rule_texts, sheets
from filmhand.journal.journal import Journal
from filmhand.journal.moves import Subject, begin_attempt
from filmhand.journal.records import Job, SheetRecord, shown
from filmhand.journal.states import ACTIVE_JOBS, ACTIVE_SHEETS, JobStage, SheetStage
from filmhand.preflight.finding import Severity
from filmhand.service import answers, claiming, failures, filing, look, pauses, requests, space, splitting, tasks
from filmhand.service.actions import (
    Action,
    AnswerJob,
    Claim,
    Deliver,
    EndList,
    FileAway,
    GiveUp,
    HoldSheet,
    LayOut,
    MakeSheet,
    Prepare,
    RemoveSource,
    key_of,
)
from filmhand.service.bell import Bell
from filmhand.service.clock import Clock, boot_id
from filmhand.service.closing import Waiting
from filmhand.service.decide import Mode, View, decide, stopped_by_space
from filmhand.service.housekeeping import Housekeeping
from filmhand.service.listings import Listings
from filmhand.service.onlooker import Onlooker
from filmhand.service.rule_versions import rule_of
from filmhand.shop import House, Shop
from filmhand.work.capped import Caps, Done, Failed, run_capped
from filmhand.work.lay_out import LaidOut, lay_out
from filmhand.work.make_sheet import make_sheet
from filmhand.work.prepare import PARTS, Prepared, prepare
from filmhand.work.reach import reach_of

_log = structlog.get_logger()

Outcome = Done[Any] | Failed


@dataclass(frozen=True)
class _UnderWay:
    """Work in a child process: which action, which attempt, and what to do with its outcome."""

    future: Future[Outcome]
    finish: Callable[[Outcome], None]


def _finish(work: _UnderWay) -> None:
    work.finish(work.future.result())


class Hand:
    """Carries out actions for one shop. `bell` rings whenever there may be something new to do."""

    def __init__(self, shop: Shop, house: House, journal: Journal, *, pool: Executor, clock: Clock) -> None:
        self.shop = shop
        self.house = house
        self.bell = Bell()
        self.on_moved: Callable[[], None] = lambda: None
        """Called when something was done, however it ended."""
        self.onlooker: Onlooker | None = None
        self._journal = journal
        self._pool = pool
        self._clock = clock
        rule_texts.keep(journal, house.rules.values())
        self.listings = Listings(shop)
        self._intake = look.Intake()
        self._waiting: dict[str, Waiting] = {}
        self._pauses: dict[str, pauses.Pause] = {}
        self._under_way: dict[str, _UnderWay] = {}
        self._short_of_space: tuple[str, ...] = ()
        self._is_stopped = False
        self._housekeeping = Housekeeping(shop, journal, clock)
        self._do: dict[type[Action], Callable[[Any], None]] = {
            RemoveSource: self._remove_source,
            Claim: self._claim,
            Prepare: self._prepare,
            EndList: self._end_list,
            GiveUp: self._give_up,
            FileAway: self._file_away,
            AnswerJob: self._answer,
            LayOut: self._lay_out,
            MakeSheet: self._make_sheet,
            HoldSheet: self._hold_sheet,
            Deliver: self._deliver,
        }

    def step(self, mode: Mode) -> int:
        """Look once, do what there is to do; returns how many actions were begun and outcomes taken in."""
        taken = self._take_outcomes()
        self._take_requests()
        view, now, attempts = self.view(), self._clock.now(), self.house.settings.attempts
        actions = decide(view, now=now, mode=mode, attempts=attempts)
        self._is_stopped = stopped_by_space(view, now=now, mode=mode, attempts=attempts)
        for action in actions:
            self._try(action)
            self.on_moved()
        if self.onlooker is not None:
            self.onlooker.look(view, self.house)
        return taken + len(actions)

    def view(self) -> View:
        """All that is known at this instant."""
        now = self._clock.monotonic()
        listed = self.listings.look(self.house, now=self._clock.now())
        self._intake = look.look_at_hot_folders(self.shop, self.house, self._intake, listed, now=now)
        active = tuple(jobs.by_stage(self._journal, *ACTIVE_JOBS))
        self._waiting = look.look_at_waiting(self.shop, self.house, self._journal, self._waiting)
        self._short_of_space = space.look(self.shop, self.house.settings.least_free_mib, self._short_of_space)
        return View(
            arrivals=self._intake.arrivals,
            still_settling=len(self._intake.settling),
            pending=tuple(jobs.pending_sources(self._journal)),
            jobs=active,
            sheets=tuple(sheets.by_stage(self._journal, *ACTIVE_SHEETS)),
            waiting=self._waiting,
            expected=jobs.expected(self._journal),
            answers=look.look_at_answers(self.shop, active),
            rules=self.house.rules,
            printers=frozenset(self.house.printers),
            busy=frozenset(self._under_way),
            paused=pauses.paused(self._pauses, now=now),
            away=frozenset(self.listings.away),
            back=self.listings.back,
            free_workers=self.house.settings.workers - len(self._under_way),
            short_of_space=self._short_of_space,
        )

    def follow(self, house: House) -> None:
        """Go by new settings from here on. Jobs keep the rule that they were claimed under."""
        rule_texts.keep(self._journal, house.rules.values())
        self.house = house
        self._waiting = {}

    def keep_house(self) -> bool:
        """Do a little of what is due beside the work; whether there is more of it."""
        return self._housekeeping.step(self.house, short=self._short_of_space, at_work=bool(self._under_way))

    @property
    def is_at_rest(self) -> bool:
        """Whether nothing is under way, settling, or waiting for another try, or for room on the disk."""
        return not (self._under_way or self._intake.settling or self._pauses or self._is_stopped)

    @property
    def settling(self) -> int:
        """Files that may yet become arrivals."""
        return len(self._intake.settling)

    @property
    def under_way(self) -> tuple[str, ...]:
        """What child processes are working on, in words."""
        return tuple(self._under_way)

    def tidy_up(self) -> None:
        """After a start: remove what a crash left that no row owns, and what can be made again."""
        strays = claiming.drop_strays(self.shop, self._journal)
        filing.drop_answered(self.shop, self._journal)
        for parent in (self.shop.staging, self.shop.cache, self.shop.tables):
            for path in parent.glob("*.part"):
                durable.remove_tree(path)
        answers.drop_refused(self.shop, self._journal)
        if strays:
            _log.info("removed copies of files that are still in their hot folders", files=strays)

    def finish(self) -> None:
        """Wait for what is under way and take it in; begin nothing new."""
        wait([work.future for work in self._under_way.values()])
        self._take_outcomes()

    def _try(self, action: Action) -> None:
        self._guarded(key_of(action), lambda: self._do[type(action)](action))

    def _guarded(self, key: str, deed: Callable[[], None]) -> None:
        """Do something to the shop; what the machine refuses is said, paused, and tried again."""
        try:
            deed()
        except JournalError:
            raise
        except (OSError, FilmhandError) as problem:
            self._pauses = pauses.after_failure(self._pauses, key, now=self._clock.monotonic())
            _log.warning("this did not work, it will be tried again", action=shown(key), why=str(problem))
        else:
            self._pauses = pauses.after_success(self._pauses, key)

    def _take_outcomes(self) -> int:
        ended = [key for key, work in self._under_way.items() if work.future.done()]
        for key in ended:
            work = self._under_way.pop(key)
            self._guarded(key, partial(_finish, work))
        return len(ended)

    def _take_requests(self) -> None:
        for request in requests.asked(self.shop.requests):
            answers.carry_out(self.shop, self._journal, request, at=self._clock.now())
            requests.done(request)

    def _begin(
        self, action: Action, work: Callable[..., Any], task: Any, *, finish: Callable[[Outcome], None], more_s: float = 0.0
    ) -> None:
        """Begin work in a child process. `more_s`: seconds that it may take beyond those of any file."""
        settings = self.house.settings
        caps = Caps(settings.memory_mib << 20, settings.seconds_per_file + more_s, settings.output_mib << 20)
        durable.make_folder(self.shop.tables)
        future = self._pool.submit(run_capped, work, task, caps=caps, reach=reach_of(task))
        future.add_done_callback(lambda _: self.bell.ring())
        self._under_way[key_of(action)] = _UnderWay(future, finish)

    def _remove_source(self, action: RemoveSource) -> None:
        is_marked = self.listings.is_marked(place_of(action.folder))
        claiming.finish(self.shop, self._journal, action, is_marked=is_marked, at=self._clock.now())

    def _claim(self, action: Claim) -> None:
        for job in claiming.claim(self.shop, self.house, self._journal, action, at=self._clock.now()):
            _log.info("claimed", job=job.id, folder=job.folder, file=job.shown_name, role=job.role, copies=job.copies)

    def _end_list(self, action: EndList) -> None:
        filing.end_list(self.shop, self._journal, action.job, action.missing, at=self._clock.now())

    def _prepare(self, action: Prepare) -> None:
        job = action.job
        attempt = begin_attempt(self._journal, Subject.job(job.id), at=self._clock.now())
        rule = rule_of(self._journal, self.house, job)
        task = tasks.prepare_task(self.shop, self.house, job, rule=rule, target_name=f"{job.id}.{attempt}.part")
        _log.info("preparing", job=job.id, attempt=attempt, file=job.shown_name)
        self._begin(action, prepare, task, finish=lambda outcome: self._prepared(job, attempt, task.target.name, outcome))

    def _prepared(self, job: Job, attempt: int, made_name: str, outcome: Outcome) -> None:
        now, made = self._clock.now(), self.shop.cache / made_name
        current = jobs.find(self._journal, job.id)
        if current is None or current.stage is not JobStage.CLAIMED or current.attempt != attempt:
            durable.remove_tree(made)
            _log.warning("a late result does not count", job=job.id, attempt=attempt)
            return
        if isinstance(outcome, Failed):
            is_short = space.is_nearly_full(self.shop, self.house.settings.least_free_mib)
            durable.remove_tree(made)
            failures.record(self._journal, Subject.job(job.id), outcome, is_short=is_short, at=now)
            _log.error("preparing failed", job=job.id, attempt=attempt, why=str(outcome.cause), detail=outcome.detail)
            return
        prepared: Prepared = outcome.value
        filing.keep_pictures(self.shop, job, made)
        if prepared.verdict >= Severity.HOLD:
            self._set_aside(current, prepared)
            durable.remove_tree(made)
            return
        if prepared.parts:
            desk = claiming.Desk(self.shop, self.house, self._journal, now)
            parts = splitting.split(desk, current, prepared, files=made / PARTS)
            durable.remove_tree(made)
            _log.info("taken apart", job=job.id, into=[part.id for part in parts])
            return
        final = self.shop.cache / job.id
        durable.remove_tree(final)
        made.rename(final)
        durable.sync_folder(self.shop.cache)
        jobs.prepared(self._journal, job.id, prepared.facts, findings=prepared.report.findings, at=now)
        _log.info("prepared", job=job.id, attempt=attempt, **prepared.facts)

    def _set_aside(self, job: Job, prepared: Prepared) -> None:
        stage = JobStage.REJECTING if prepared.verdict is Severity.REJECT else JobStage.HOLDING
        place = filing.choose_place(self.shop, self._journal, job, stage)
        found = replace(job, findings=prepared.report.findings, prepared=prepared.facts)
        jobs.set_aside(self._journal, found, stage, place=place, at=self._clock.now())

    def _give_up(self, action: GiveUp) -> None:
        job = action.job
        place = filing.choose_place(self.shop, self._journal, job, JobStage.HOLDING)
        found = replace(job, findings=(*job.findings, filing.attempts_spent(job)))
        jobs.set_aside(self._journal, found, JobStage.HOLDING, place=place, at=self._clock.now())

    def _file_away(self, action: FileAway) -> None:
        place = filing.file_job(self.shop, self.house, self._journal, action.job, at=self._clock.now())
        _log.info("filed", job=action.job.id, stage=action.job.stage, place=str(place.relative_to(self.shop.root)))

    def _answer(self, action: AnswerJob) -> None:
        answers.answer_job(self.shop, self._journal, action.job, action.answer, at=self._clock.now())

    def _lay_out(self, action: LayOut) -> None:
        sheet = action.sheet
        unplaced = jobs.unplaced(self._journal, sheet.folder, sheet.printer)
        lost = [job for job, _ in unplaced if not (self.shop.cache / job.id).is_dir()]
        for job in lost:
            jobs.prepare_again(self._journal, job.id, at=self._clock.now())
            _log.warning("its separation is gone, it is prepared again", job=job.id)
        if lost:
            return
        attempt = begin_attempt(self._journal, Subject.sheet(sheet.id), at=self._clock.now())
        _log.info("closing", sheet=sheet.name, attempt=attempt, why=action.why)
        task = tasks.lay_out_task(self.shop, self.house, sheet, unplaced)
        finish = partial(self._laid_out, sheet, attempt, self.house.rules[sheet.folder].digest)
        self._begin(action, lay_out, task, finish=finish, more_s=task.rules.seconds)

    def _laid_out(self, sheet: SheetRecord, attempt: int, rule: str, outcome: Outcome) -> None:
        current = self._current(sheet, SheetStage.OPEN, attempt, outcome)
        if current is None or isinstance(outcome, Failed):
            return
        laid: LaidOut = outcome.value
        film = sheets.Film(laid.film_width_mm, laid.length_mm, laid.why)
        sheets.seal(self._journal, current, laid.placements, film=film, rule=rule, at=self._clock.now())
        copies = len(copies_on(laid.placements))
        _log.info("sealed", sheet=sheet.name, copies=copies, length_mm=round(film.length_mm, 1), film=film.why, note=laid.note)

    def _make_sheet(self, action: MakeSheet) -> None:
        sheet = action.sheet
        durable.make_folder(self.shop.staging)
        if (self.shop.staging / sheet.name).is_dir():
            # A crash came between its final name in staging and the commit: it was whole before it got that name.
            self._stage(sheet)
            return
        attempt = begin_attempt(self._journal, Subject.sheet(sheet.id), at=self._clock.now())
        contents = tasks.Contents(
            placements=sheets.placements(self._journal, sheet.id),
            jobs=tuple((job, rule_of(self._journal, self.house, job)) for job in jobs.on_sheet(self._journal, sheet.id)),
            rule=rule_of(self._journal, self.house, sheet),
        )
        begun = replace(sheet, attempt=attempt)
        task = tasks.make_sheet_task(self.shop, self.house, begun, contents=contents, at=self._clock.now())
        _log.info("composing", sheet=sheet.name, attempt=attempt, copies=len(task.sheet.placements))

        def finish(outcome: Outcome) -> None:
            counts = False
            try:
                counts = self._current(sheet, SheetStage.SEALED, attempt, outcome) is not None and isinstance(outcome, Done)
            finally:
                if not counts:
                    durable.remove_tree(task.target)
            if counts:
                publish.stage(task.target, self.shop.staging / sheet.name)
                self._stage(sheet)

        self._begin(action, make_sheet, task, finish=finish)

    def _stage(self, sheet: SheetRecord) -> None:
        ticket = json.loads((self.shop.staging / sheet.name / TICKET).read_text("utf-8"))
        facts = {key: ticket.get(key) for key in ("estimate", "hand", "orders", "digests")}
        sheets.staged(self._journal, sheet, facts, at=self._clock.now())
        _log.info("staged", sheet=sheet.name)

    def _current(self, sheet: SheetRecord, stage: SheetStage, attempt: int, outcome: Outcome) -> SheetRecord | None:
        """The sheet as it is now, if an outcome still counts; a failure is recorded."""
        current = sheets.find(self._journal, sheet.name)
        if current is None or current.stage is not stage or current.attempt != attempt:
            _log.warning("a late result does not count", sheet=sheet.name, attempt=attempt)
            return None
        if isinstance(outcome, Failed):
            is_short = space.is_nearly_full(self.shop, self.house.settings.least_free_mib)
            failures.record(self._journal, Subject.sheet(sheet.id), outcome, is_short=is_short, at=self._clock.now())
            _log.error("sheet failed", sheet=sheet.name, attempt=attempt, why=str(outcome.cause), detail=outcome.detail)
        return current

    def _hold_sheet(self, action: HoldSheet) -> None:
        why = f"work on it broke off {action.sheet.attempt} times"
        sheets.hold(self._journal, action.sheet, why, at=self._clock.now())
        _log.error("sheet held for a person", sheet=action.sheet.name, why=why)

    def _deliver(self, action: Deliver) -> None:
        sheet, now, boot = action.sheet, self._clock.now(), boot_id()
        staged = self.shop.staging / sheet.name
        marked = self.shop.out if self.listings.is_marked(OUT) else None
        if sheet.stage is SheetStage.STAGED:
            if not publish.is_staged(staged, marked=marked):
                sheets.hold(self._journal, sheet, "its staged folder is gone, though it was not handed over", at=now)
                return
            sheets.delivering(self._journal, sheet.id, boot=boot, at=now)
        rebooted = sheet.stage is SheetStage.DELIVERING and sheet.boot != boot
        target = self.shop.out / sheet.place
        result = publish.hand_over(staged, target, booted_since_commit=rebooted, marked=marked)
        if result is publish.HandOver.DONE:
            sheets.delivered(self._journal, sheet.id, at=now)
            _log.info("delivered", sheet=sheet.name, place=str(target.relative_to(self.shop.root)))
        else:
            held = sheets.find(self._journal, sheet.name)
            assert held is not None
            sheets.hold(self._journal, held, result.value, at=now)
            _log.error("sheet held for a person", sheet=sheet.name, why=result.value)
