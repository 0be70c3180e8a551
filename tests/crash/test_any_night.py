"""A whole shop against a model: arrivals, edits, answers, closings, a controller, crashes, in any order hypothesis likes.

The hand, the journal, the files and the work are filmhand's own; only the pool is ours, so that work goes on when a rule says so,
and a crash loses what is under way. After each happening, and at the end when all has come to rest, the six invariants are
looked at (harness.py), and at the end each content has come to the end that a model says.
"""

import shutil
import tempfile
from collections import Counter
from collections.abc import Callable
from concurrent.futures import Executor, Future
from contextlib import ExitStack
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from harness import Customer, digest_of, owned, take_away, violations
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule, run_state_machine_as_test

from filmhand.journal import jobs, sheets
from filmhand.journal.journal import Journal
from filmhand.journal.records import Job
from filmhand.journal.states import JobStage, SheetStage
from filmhand.service import reload, requests
from filmhand.service.decide import Mode
from filmhand.service.hand import Hand
from filmhand.service.requests import Verb
from filmhand.shop import Shop
from filmhand.work.capped import Cause, Done, Failed
from service.shared_folders import Hands
from small_shop import RULE, new_shop, picture

HAPPENINGS = ("send",) * 5 + ("look",) * 6 + ("answer", "answer", "close", "controller", "break_off")
ENDS = {"good": "archived", "opaque": "held", "cut": "rejected"}


class Crash(BaseException):
    """The process is gone: nothing may catch this."""


class Pool(Executor):
    """Work waits until it is told to go on, and is then done here."""

    def __init__(self) -> None:
        self.waiting: list[tuple[Future[Any], Callable[..., Any], Any]] = []

    def submit(self, _run_capped: Any, /, work: Any, task: Any, **_caps: Any) -> Future[Any]:  # type: ignore[override]
        """Take a task."""
        future: Future[Any] = Future()
        self.waiting.append((future, work, task))
        return future

    def go_on(self, *, breaks_off: bool) -> None:
        """Do the task that waits longest; or it breaks off as a child process does that dies."""
        if self.waiting:
            future, work, task = self.waiting.pop(0)
            future.set_result(Failed(Cause.DIED, "killed") if breaks_off else Done(work(task)))


@pytest.fixture(scope="module")
def template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A shop on narrow film, its tables made."""
    root = new_shop(tmp_path_factory.mktemp("template") / "shop", rule=RULE.replace("300 mm", "110 mm"))
    printer = root / "printer.toml"
    narrow = printer.read_text("utf-8").replace('film_width = "600 mm"', 'film_width = "120 mm"')
    assert "120 mm" in narrow
    printer.write_text(narrow, "utf-8")
    return root


class Night(RuleBasedStateMachine):
    """See above. `template` is set by the test."""

    template: Path

    def __init__(self) -> None:
        super().__init__()
        self.end = ExitStack()
        root = Path(self.end.enter_context(tempfile.TemporaryDirectory(prefix="filmhand-night-")))
        shutil.copytree(self.template, root / "shop")
        self.shop, self.taken = Shop.at(root / "shop"), root / "taken"
        self.customer, self.clock = Customer(root / "shop"), Hands()
        self.expected: dict[str, str] = {}
        """By digest: where a job ends up."""
        self.number = 0

    @initialize()
    def start(self) -> None:
        """Start filmhand; what a crash left is there."""
        self.running = ExitStack()
        self.shop.make_folders()
        self.pool = Pool()
        journal = self.running.enter_context(Journal.open(self.shop.journal))
        self.hand = Hand(self.shop, reload.load(self.shop), journal, pool=self.pool, clock=self.clock)
        self.hand.tidy_up()

    @rule(data=st.data(), what=st.sampled_from(HAPPENINGS))
    def happens(self, data: st.DataObject, what: str) -> None:
        """One rule for all: of several, hypothesis would leave out some for a whole night, and little would happen in it."""
        getattr(self, what)(data)

    def send(self, data: st.DataObject) -> None:
        """A file of one of a few names comes, or replaces one that is still there."""
        kind = data.draw(st.sampled_from(sorted(ENDS)))
        copies, place = data.draw(st.integers(1, 3)), data.draw(st.integers(0, 3))
        self.number += 1
        art = picture(self.number, ground=(255, 255, 255, 255) if kind == "opaque" else (0, 0, 0, 0))
        art = art[: len(art) // 2] if kind == "cut" else art
        path = self.customer.inbox / f"A{place}_30mm_x{copies}.png"
        if path.exists() and (before := digest_of(path.read_bytes())) not in owned(self.shop.root):
            self.customer.dropped.discard(before)  # it never was
            del self.customer.ordered[before, copies], self.expected[before]
        self.customer.drop(path.name, art, copies=copies)
        self.expected[digest_of(art)] = ENDS[kind]

    def look(self, data: st.DataObject) -> None:
        """Time passes, filmhand looks and acts, its work goes on; after `last` deeds it is gone, and is started again."""
        self.hand.on_moved = self._ends_after(data.draw(st.none() | st.integers(0, 12), label="last"))
        seconds, works = data.draw(st.sampled_from([0.05, 1.0, 5.0])), data.draw(st.booleans())
        try:
            for _ in range(data.draw(st.integers(1, 8))):
                self.clock.forward(seconds)
                self.hand.step(Mode.DAEMON)
                if works:
                    self.pool.go_on(breaks_off=False)
        except Crash:
            self.running.close()
            self.start()

    @staticmethod
    def _ends_after(last: int | None) -> Callable[[], None]:
        left = -1 if last is None else last

        def moved() -> None:
            nonlocal left
            if left == 0:
                raise Crash
            left -= 1

        return moved

    def break_off(self, _: st.DataObject) -> None:
        """A child process dies."""
        self.pool.go_on(breaks_off=True)

    def answer(self, data: st.DataObject) -> None:
        """A person releases or refuses what is held, once."""
        yes = data.draw(st.booleans())
        if requests.asked(self.shop.requests):
            return
        for job in self._jobs(JobStage.HELD)[:1]:
            requests.ask(self.shop.requests, Verb.RELEASE if yes else Verb.REFUSE, job.id)
            if self.expected[job.digest] != "cut":
                self.expected[job.digest] = "archived" if yes else "rejected"

    def close(self, _: st.DataObject) -> None:
        """A person closes the sheet that is open."""
        requests.ask(self.shop.requests, Verb.CLOSE, "small")

    def controller(self, _: st.DataObject) -> None:
        """The print controller takes what was handed over."""
        take_away(self.shop.root, self.taken)

    def _jobs(self, *stages: JobStage) -> list[Job]:
        with Journal.read_only(self.shop.journal) as journal:
            return jobs.by_stage(journal, *stages)

    @invariant()
    def invariants_hold(self) -> None:
        """The first four, at any instant."""
        assert not list(violations(self.shop.root, self.taken, self.customer, at_rest=False))

    def teardown(self) -> None:
        """All comes to rest: all six, and every content where it belongs."""
        try:
            if hasattr(self, "running"):
                self._rest()
                self.running.close()
        finally:
            self.end.close()

    def _rest(self) -> None:
        self.hand.on_moved = lambda: None
        for _ in range(200):
            self.clock.forward(timedelta(minutes=10).total_seconds())
            acted = self.hand.step(Mode.DAEMON)
            busy = bool(self.pool.waiting)
            self.pool.go_on(breaks_off=False)
            with Journal.read_only(self.shop.journal) as journal:
                held = sheets.by_stage(journal, SheetStage.HELD)
            for sheet in held:  # three attempts broke off
                requests.ask(self.shop.requests, Verb.RELEASE, sheet.name)
            if not (acted or busy or held or self.hand.settling):
                break
        take_away(self.shop.root, self.taken)
        assert not list(violations(self.shop.root, self.taken, self.customer, at_rest=True))
        ended = self._jobs(*JobStage)
        given_up = {
            job.digest for job in ended if job.stage is JobStage.HELD and job.attempt >= self.hand.house.settings.attempts
        }
        expected = {digest: "held" if digest in given_up else end for digest, end in self.expected.items()}
        assert Counter((job.digest, job.stage.value) for job in ended) == Counter(expected.items())


@pytest.mark.slow
def test_any_night_ends_as_the_model_says(template: Path) -> None:
    """Forty happenings a night, a dozen nights."""
    Night.template = template
    run_state_machine_as_test(
        Night,
        settings=settings(max_examples=12, stateful_step_count=40, deadline=None, suppress_health_check=list(HealthCheck)),
    )
