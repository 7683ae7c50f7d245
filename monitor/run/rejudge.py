"""The same estimates under other alert levels: a second judge beside the pipeline of a replay."""

from __future__ import annotations

from datetime import datetime

from monitor.records.events import Priority, Reason
from monitor.records.review import Elsewhere
from monitor.records.situations import Situation
from monitor.run.pipeline import Pipeline
from monitor.settings.schema import Levels, Settings
from monitor.watch import alarms
from monitor.watch.judgement import Judge


class Rejudged:
    """Judges every tick as a profile would whose levels are `factor` times those in force then; the cap on ALARM
    stands. Every alert is taken as acknowledged at once, so that only the facts raise one."""

    def __init__(self, factor: float) -> None:
        self.factor = factor
        self._settings: Settings | None = None
        self._alerts: dict[str, alarms.Alert] = {}
        self._before: dict[str, Situation] = {}
        self._standing: dict[str, Priority] = {}
        self._counted: list[Priority] = []

    def tick(self, pipeline: Pipeline, now: datetime) -> None:
        """Judge what the pipeline has just worked out."""
        assert pipeline.estimate is not None
        if pipeline.settings is not self._settings:
            if self._settings is not None and pipeline.settings.stay.name != self._settings.stay.name:
                for known in (self._alerts, self._before, self._standing, self._counted):
                    known.clear()  # another stay: nothing of the one before counts
            self._settings = pipeline.settings
            self._judge = _judge(self._settings, self.factor)
        situations = self._judge.situations(
            pipeline.estimate,
            pipeline.outlook,
            pipeline.feed_states(now),
            pipeline.stay,
            self._before,
            pipeline.traffic.lost(now),
            pipeline.traffic.silent(now),
            now,
        )
        self._before = {situation.key: situation for situation in situations}
        self._alerts, transitions = alarms.step(self._alerts, situations, self._judge.alerts.timing, now)
        for transition in transitions:
            if transition.reason in (Reason.RAISED, Reason.LEVEL_UP, Reason.TIME_TO_ACT):
                highest = self._standing.get(transition.alert, Priority.NONE)
                self._standing[transition.alert] = max(highest, transition.priority, key=lambda level: level.rank)
            elif transition.reason is Reason.RECTIFIED:
                self._counted.append(self._standing.pop(transition.alert, Priority.NONE))
            self._alerts, _ = alarms.acknowledge(self._alerts, transition.alert, "", now)

    def result(self) -> Elsewhere:
        """Alerts by the highest level each reached, those that still stand included."""
        levels = [*self._counted, *self._standing.values()]
        counts = (levels.count(level) for level in (Priority.CAUTION, Priority.WARNING, Priority.ALARM))
        return Elsewhere(self.factor, *counts)


def _judge(settings: Settings, factor: float) -> Judge:
    profile = settings.alerts
    scaled = {"levels": _scaled(profile.levels, factor), "with_people": _scaled(profile.with_people, factor)}
    return Judge(profile.model_copy(update=scaled), settings.berth.limits)


def _scaled(levels: Levels, factor: float) -> Levels:
    return levels.model_copy(
        update={
            "caution": levels.caution * factor,
            "warning": levels.warning * factor,
            "alarm": levels.alarm * factor,
        }
    )
