"""What a new pipeline takes over from the alerts of the last: a restart is no news."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from monitor.records.estimates import Validity
from monitor.records.events import Priority
from monitor.records.situations import Matter, Situation
from monitor.settings.schema import Feed
from monitor.watch.alarms import Alert
from monitor.watch.impaired import OUTLOOK, PARTS

BEFORE: Final = "so it was before the restart, and nothing has been heard of it since"
PASSES_WITHIN: Final = timedelta(hours=1)  # of what was last told of her; nobody is warned of a later pass


@dataclass(slots=True)
class Heard:
    """What is known of one input."""

    since: datetime
    up: bool = True
    detail: str = ""
    heard_at: datetime | None = None


def take_over(
    alerts: Mapping[str, Alert],
    feeds: Sequence[Feed],
    heard: dict[str, Heard],
    own: dict[str, tuple[datetime, str]],
    situations: dict[str, Situation],
) -> None:
    """What an alert that stands was about holds until the contrary is known: a feed is dark until it is heard, a
    part of the PC is down until it is told to be up, the hours ahead are unknown until there is a forecast, a
    ship may come until AIS would show her, a limit is reached until the wind is known."""
    by_key = {f"feed:{feed.name}": feed for feed in feeds}
    for key, alert in alerts.items():
        if not alert.active or alert.since is None:
            continue
        part = key.removeprefix("own:")
        if part in (*PARTS, "channel") and part != OUTLOOK:
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
                feed.since = alert.since - timedelta(seconds=by_key[key].stale_after)


def _unheard(key: str, matter: Matter, until: datetime | None = None, subject: str = "") -> Situation:
    nothing = Priority.NONE
    return Situation(
        key, matter, nothing, nothing, unknown=True, until=until, subject=subject, validity=Validity.UNKNOWN,
        reasons=(BEFORE,),
    )  # fmt: skip
