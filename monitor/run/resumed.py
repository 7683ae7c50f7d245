"""What is known of each input, and what a new pipeline takes over from the alerts of the last: a restart is no
news."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from monitor.records.estimates import Validity
from monitor.records.events import Priority
from monitor.records.observations import (
    ClockReading,
    Observation,
    OwnNumber,
    Refusal,
    Refused,
    ShipFix,
    ShipParticulars,
    WindForecast,
    WindReading,
)
from monitor.records.situations import Matter, Situation
from monitor.settings.schema import STATIONS, Stay
from monitor.watch.alarms import Alert
from monitor.watch.impaired import OUTLOOK, PARTS
from monitor.watch.judgement import SHIPS, FeedState

BEFORE: Final = "so it was before the restart, and nothing has been heard of it since"
PASSES_WITHIN: Final = timedelta(hours=1)  # of what was last told of her; nobody is warned of a later pass


@dataclass(frozen=True, slots=True)
class Input:
    """What may fall silent: a feed, or the wind of one, apart from its ships, that carries both."""

    name: str
    source: str  # the feed
    carries: str
    for_wind: bool  # there for its wind: heard by nothing else
    stale_after_s: float


def inputs(stay: Stay) -> tuple[Input, ...]:
    """All that the watch listens for."""
    found = []
    for feed in stay.feeds:
        ships, wind = feed.carries in SHIPS, feed.name in stay.wind.order
        found.append(Input(feed.name, feed.name, feed.carries, wind and not ships, feed.stale_after))
        if ships and wind:
            found.append(Input(f"{feed.name} (wind)", feed.name, "nmea", True, feed.stale_after))
    return tuple(found)


@dataclass(slots=True)
class Heard:
    """What is known of one input."""

    since: datetime
    up: bool = True
    detail: str = ""
    heard_at: datetime | None = None
    ship_at: datetime | None = None  # when a ship's place last came in
    newest_at: datetime | None = None  # the latest time that any of those places held

    @property
    def silent_since(self) -> datetime:
        """When something usable last came, or else since when it is waited for."""
        return self.heard_at or self.since

    def take(self, observation: Observation, at: datetime, what: Input, among: Iterable[Heard]) -> None:
        """Note what came, if it is what the input is there for: ships, or the wind it may be believed for, or else
        anything usable. So no instrument that falls silent is hidden by another on the same line.

        `among`: all inputs; what a quicker one has told, this one has heard as well."""
        carries, for_wind, shown_at = what.carries, what.for_wind, None
        match observation:
            case OwnNumber():
                return
            case Refused(reason=reason):
                usable = carries in SHIPS and reason is Refusal.DUPLICATE  # another receiver was quicker
                if usable:
                    shown_at = max((each.newest_at for each in among if each.newest_at), default=None)
            case ShipFix():
                usable, shown_at = not for_wind, observation.observed_at
            case ShipParticulars():
                usable = not for_wind
            case ClockReading(by_ais=by_ais):
                usable = by_ais if carries in SHIPS else not for_wind
            case WindReading() | WindForecast():
                usable = carries not in SHIPS
            case _:
                usable = carries not in SHIPS and not for_wind
        if not usable:
            return
        self.heard_at = at
        if shown_at is not None:
            self.ship_at, self.newest_at = at, max(shown_at, self.newest_at or shown_at)
        elif carries in STATIONS:  # it may repeat an old measurement
            self.heard_at = min(at, getattr(observation, "observed_at", at))

    def state(self, what: Input, now: datetime, late_after_s: float) -> FeedState:
        """As judged at `now`. A feed whose ships all come late, by a slow network or a wrong clock on the way,
        shows none of those who are near: it has been silent since the last moment of which it told."""
        heard_at, detail = self.heard_at, self.detail
        if self.ship_at is not None and self.newest_at is not None:
            late_s = (self.ship_at - self.newest_at).total_seconds()
            if late_s > late_after_s:
                heard_at = self.newest_at
                old = f"{late_s / 60:.0f} min" if late_s < 7200.0 else f"{late_s / 3600:.0f} h"
                detail = f"Its ships are {old} old when they come: a slow network, or a wrong clock?"
        age_s = None if heard_at is None else (now - heard_at).total_seconds()
        waited_s = (now - self.since).total_seconds()
        stale_s = what.stale_after_s
        return FeedState(what.name, what.carries, self.up, detail, age_s, stale_s, waited_s, what.source)


def take_over(
    alerts: Mapping[str, Alert],
    awaited: Sequence[Input],
    heard: dict[str, Heard],
    own: dict[str, tuple[datetime, str]],
    situations: dict[str, Situation],
) -> None:
    """What an alert that stands was about holds until the contrary is known: a feed is dark until it is heard, a
    part of the PC is down until it is told to be up, the hours ahead are unknown until there is a forecast, a
    ship may come until AIS would show her, a limit is reached until the wind is known."""
    by_key = {f"feed:{each.name}": each for each in awaited}
    for key, alert in alerts.items():
        if not alert.active or alert.since is None:
            continue
        part = key.removeprefix("own:")
        if part in (*PARTS, "channel", "mmsi") and part != OUTLOOK:
            own.setdefault(part, (alert.since, BEFORE))
        elif key == "ahead":
            situations.setdefault(key, _unheard(key, Matter.AHEAD))
        elif key.startswith("passing:"):
            situations.setdefault(key, _unheard(key, Matter.PASSING, until=alert.since + PASSES_WITHIN))
        elif key.startswith("limit:"):
            situations.setdefault(key, _unheard(key, Matter.LIMIT, subject=key.removeprefix("limit:")))
        elif key in by_key:
            feed = heard.setdefault(by_key[key].name, Heard(alert.since))
            if feed.heard_at is None:
                feed.since = alert.since - timedelta(seconds=by_key[key].stale_after_s)


def _unheard(key: str, matter: Matter, until: datetime | None = None, subject: str = "") -> Situation:
    nothing = Priority.NONE
    return Situation(
        key, matter, nothing, nothing, unknown=True, until=until, subject=subject, validity=Validity.UNKNOWN,
        reasons=(BEFORE,),
    )  # fmt: skip
