"""The live watch: sources in threads, one consumer that stamps, journals and handles.

Start-up waits for no network: every source runs beside the consumer and tells when it is up or down.
"""

from __future__ import annotations

import queue
import threading
from collections.abc import Callable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import suppress
from datetime import datetime, timedelta
from heapq import merge
from typing import Final

from apscheduler.schedulers.background import BackgroundScheduler

from monitor.base.clock import AnchoredClock, stopwatch_s
from monitor.intake import collector, collector_services
from monitor.outlet.notifier import Channel, deliver
from monitor.outlet.wording import CAUTION
from monitor.records.codec import Record
from monitor.records.estimates import Outlook
from monitor.records.events import (
    Beat,
    ClockStepped,
    Direction,
    In,
    Notice,
    Priority,
    Reason,
    SettingsSnapshot,
    SourceStatus,
    Started,
    Stopped,
)
from monitor.run.journal import Journal
from monitor.run.journal_errors import JournalDamaged, JournalError
from monitor.run.outward import Outward
from monitor.run.pipeline import Pipeline
from monitor.run.recording import program_version
from monitor.run.session import REMEMBERED, REMEMBERED_KINDS, Session
from monitor.settings.schema import Settings
from monitor.watch.expected import Ask
from monitor.watch.impaired import OUTLOOK

BEAT: Final = timedelta(seconds=1)
ESTIMATED_WITHIN: Final = timedelta(minutes=3)  # an estimate is journalled every minute at least
LATE_AFTER_S: Final = 2.5  # so that a beat or two are left before the tick that would wait for it


class Live:
    """Watches one stay until `stop` is set.

    `channels` take the notices; `watchers` are called after every beat with the pipeline (for the status line),
    `witness` with every event, in and out, as it is journalled (for the console).
    """

    def __init__(
        self,
        settings: Settings,
        snapshot: SettingsSnapshot,
        journal: Journal,
        channels: Sequence[Channel],
        watchers: Sequence[Callable[[Pipeline, datetime], None]] = (),
        witness: Callable[[datetime, Record], None] | None = None,
    ) -> None:
        self._settings, self._snapshot = settings, snapshot
        self._journal = self._given = journal  # the caller closes it
        self._channels, self._watchers, self._witness = channels, watchers, witness
        self._inputs: queue.Queue[In] = queue.Queue()
        self._clock = AnchoredClock()
        self._worker = ThreadPoolExecutor(1, "outlook")
        self.session = Session(self._submit)
        self._asked: tuple[float, Future[Outlook]] | None = None  # when the last outlook was asked for
        self._late = False
        self._trouble = ""
        self.outward: Outward | None = None  # set before `run` by who wants more told than on `channels`

    def now(self) -> datetime:
        """The time as this watch stamps it."""
        return self._clock.now()

    def emit(self, record: In) -> None:
        """The one door: any thread may hand in an input."""
        self._inputs.put(record)

    def run(self, stop: threading.Event) -> None:
        """Block until `stop` is set. The journal ends with Stopped."""
        self._remember()
        watched_until = self._journal.watched_until()
        self._take(self._snapshot)
        self._take(Started(program_version(), watched_until))
        self._resume_outward()
        scheduler = BackgroundScheduler(timezone="UTC")
        threads = collector.start(self._settings.stay.feeds, self.emit, stop)
        collector_services.schedule(scheduler, self._settings, self.emit)
        scheduler.start()
        try:
            self._consume(stop)
        finally:
            stop.set()
            if self.outward is not None:
                self.outward.close()
            scheduler.shutdown(wait=False)
            for thread in threads:
                thread.join(timeout=2.0)
            self._take(Stopped("asked to stop"))
            self._worker.shutdown(wait=False, cancel_futures=True)
            if self._journal is not self._given:
                self._journal.close()  # opened here, in the place of a damaged one

    def _remember(self) -> None:
        """What the session must know of the time before, from the journal (see `session`)."""
        last = self._journal.last_alive_at()
        if last is None:
            return
        rare = self._journal.read(direction="in", kinds=REMEMBERED_KINDS)
        recent = self._journal.read(begins=self._clock.now() - REMEMBERED, direction="in")
        told = self._journal.read(direction="out", kinds=("Transition",))
        estimates = self._journal.read(begins=last - ESTIMATED_WITHIN, direction="out", kinds=("LoadEstimate",))
        seen = 0
        for entry in merge(rare, recent, told, estimates, key=lambda entry: entry.seq):
            if entry.seq > seen:  # some are in both
                self.session.remember(entry)
            seen = entry.seq

    def _resume_outward(self) -> None:
        """Who is far away has been told of what stands, or is still to be told, whatever restarts in between."""
        if self.outward is None or self.session.pipeline is None:
            return
        told = self._journal.read(direction="out", kinds=("Transition", "Notice"))
        became = self._journal.read(direction="in", kinds=("Delivery", "ClockStepped"))
        before = (entry.record for entry in merge(told, became, key=lambda entry: entry.seq))
        self.outward.resume(before, self.session.pipeline.alerts)

    def _consume(self, stop: threading.Event) -> None:
        next_beat = self._clock.now() + BEAT
        while not stop.is_set():
            wait_s = (next_beat - self._clock.now()).total_seconds()
            with suppress(queue.Empty):
                self._take(self._inputs.get(timeout=max(0.0, wait_s)))
            if self._clock.now() >= next_beat:
                self._beat()
                now = self._clock.now()
                next_beat = min(max(next_beat + BEAT, now), now + BEAT)  # the clock may have been set back

    def _beat(self) -> None:
        step = self._clock.step()
        if step is not None:
            self._clock.re_anchor()
            self._take(ClockStepped(step.total_seconds()))
            if self.outward is not None:
                self.outward.clock_set(step)
        self._take(Beat())
        self._look_at_outlook()
        if self.outward is not None and self.session.pipeline is not None:
            self.outward.beat(self._clock.now(), self.session.pipeline)
        for watcher in self._watchers:
            if self.session.pipeline is not None:
                watcher(self.session.pipeline, self._clock.now())

    def _look_at_outlook(self) -> None:
        """An outlook that will not be ready for its tick must not hold up the beat: the tick is told to go on
        without, and a later one to take it."""
        if self._asked is None:
            return
        asked_s, outlook = self._asked
        if not self._late and not outlook.done() and stopwatch_s() - asked_s > LATE_AFTER_S:
            self._late = True
            self._take(SourceStatus(OUTLOOK, False, "passes and the hours ahead are worked out too slowly"))
        elif self._late and outlook.done():
            self._late = False
            self._take(SourceStatus(OUTLOOK, True, ""))

    def _take(self, record: In) -> None:
        """Stamp, journal, handle, journal the conclusions, tell people."""
        at = self._clock.now()
        self._write(at, "in", record)
        notices = []
        for conclusion in self.session.handle(at, record):
            self._write(at, "out", conclusion)
            if self.outward is not None:
                self.outward.concluded(conclusion)
            if isinstance(conclusion, Notice):
                notices.append(conclusion)
        for delivery in deliver(notices, self._channels):
            self._take(delivery)  # an input like any other, or a replay would run its ticks where we did not

    def _write(self, at: datetime, direction: Direction, record: Record) -> None:
        """A full or failing disk does not stop the watch; it is told once, and once when it takes data again."""
        if self._witness is not None:
            self._witness(at, record)
        trouble = ""
        try:
            self._journal.append(at, direction, record)
        except JournalDamaged as error:
            trouble = self._move_on(at, error)
        except JournalError as error:
            trouble = str(error)
        if bool(trouble) != bool(self._trouble):
            if trouble:
                do = "Free or mend the disk: NOTHING IS BEING RECORDED. The watch itself goes on."
                self._tell_disk(at, Reason.RAISED, do, trouble)
            else:
                self._tell_disk(at, Reason.RECTIFIED, "Go on watching.", "The journal takes data again")
        self._trouble = trouble

    def _move_on(self, at: datetime, damage: JournalDamaged) -> str:
        """Leave a damaged journal as it is and go on beside it; what waits goes along. Else the trouble."""
        try:
            self._journal = self._journal.beside()
        except (JournalError, OSError) as error:
            return str(error)
        do = f"Keep {damage.path.name} as it is; have the disk looked at. The watch and its recording go on."
        self._tell_disk(at, Reason.RAISED, do, f"{damage}. {self._journal.moved_on}")
        return ""

    def _tell_disk(self, at: datetime, reason: Reason, do: str, what: str) -> None:
        """Past the journal, for it is the journal that fails."""
        told = Notice(at, "journal", Priority.WARNING, reason, do, what, "", "", "", CAUTION, "Journal")
        deliver([told], self._channels)

    def _submit(self, look: Callable[[Ask], Outlook], ask: Ask) -> Callable[[], Outlook]:
        future: Future[Outlook] = self._worker.submit(look, ask)
        self._asked = stopwatch_s(), future
        return future.result
