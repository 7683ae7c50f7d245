"""What an alert is about, in words. Its key ("passing:200911002") is for machines; people read this."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from monitor.records.events import Notice

_ALONE: Final = {
    "wind": "Wind and stream",
    "ahead": "Hours ahead",
    "untended": "Lines if nobody tends",
    "clock": "PC clock",
    "off": "Watch was off",
    "model": "Line loads",
    "journal": "Journal",
    "brakes": "Brakes that may have rendered",
}
_WITH_SUBJECT: Final = {
    "feed": "Not heard",
    "limit": "Berth limit",
    "line": "Line reported",
}
_OWN: Final = {
    "disk": "Disk nearly full",
    "channel": "Notices not delivered",
    "mmsi": "Our MMSI",
    "flood": "Too many ships on AIS",
    "outlook": "Coming ships late",
    "outward ping": "Nobody outside watches this PC",
    "water": "Water off the tables",
    "wind": "Anemometer in doubt",
}
OWN_DO: Final = {  # when the watch itself is impaired
    "disk": "Free the disk: soon nothing can be recorded. The watch itself goes on.",
    "channel": "Reach people another way: this channel did not take a notice.",
    "mmsi": "Put the MMSI in the ship's file right and restart: whoever else has the number there is not watched.",
    "flood": "Keep a lookout and listen to VTS: AIS may be flooded with ships that are not there.",
    "outlook": "Keep a lookout and listen to VTS: ships and hours ahead come late or not at all.",
    "outward ping": "Tell the office: if this PC dies now, nobody outside notices by himself.",
    "water": "Tend lines to the water as it is. Loads take what is measured, where it can be believed.",
    "wind": "Read the anemometer and look at the sea; enter the wind by hand if it is another.",
}


def alert_in_words(key: str, ship: Callable[[int], str] = lambda mmsi: "") -> str:
    """ "Passing: ORVANE SUMMIT", "Berth limit: call tugs", "Not heard: ais". `ship` gives the name of an MMSI, ""
    where she has told none."""
    kind, _, subject = key.partition(":")
    if kind == "passing":
        return f"Passing: {(ship(int(subject)) if subject.isdigit() else '') or f'MMSI {subject}'}"
    if kind == "own":
        return _OWN.get(subject, f"This watch: {subject}")
    if kind in _WITH_SUBJECT:
        return f"{_WITH_SUBJECT[kind]}: {subject.replace('_', ' ') if kind == 'limit' else subject}"
    return _ALONE.get(kind, key)


def notice_about(notice: Notice) -> str:
    """What a notice is about; one that was written before notices said so is told by its key."""
    return notice.about or alert_in_words(notice.alert)
