"""Alerts are told in words: no key of any kind that the watch can raise reaches a person.

Kinds: the closed list `Matter`; limits as the berth's file may have them; parts of the PC that are watched.
"""

from __future__ import annotations

import re
from datetime import UTC, datetime
from unittest.mock import ANY

import pytest

from monitor.outlet.naming import alert_in_words
from monitor.records.events import (
    Action,
    AlertState,
    Notice,
    OperatorAction,
    Priority,
    Reason,
    Transition,
)
from monitor.records.situations import Matter
from monitor.run.entries import EntryFault, read_entry
from monitor.run.witness import Witness
from monitor.settings.schema import Limits
from monitor.watch.impaired import PARTS

T0 = datetime(2026, 3, 14, 10, tzinfo=UTC)
SUBJECTS = {
    Matter.PASSING: ("200911002",),
    Matter.FEED: ("ais", "masthead"),
    Matter.LIMIT: tuple(Limits.model_fields),
    Matter.LINE: ("head line 1",),
    Matter.OWN: (*PARTS, "channel", "flood", "mmsi", "water", "wind"),
}
KEYS = [f"{matter.value}:{subject}" for matter, subjects in SUBJECTS.items() for subject in subjects]
KEYS += [matter.value for matter in Matter if matter not in SUBJECTS] + ["untended", "journal"]


@pytest.mark.parametrize("key", KEYS)
def test_a_key_becomes_words(key: str) -> None:
    words = alert_in_words(key)
    assert words[0].isupper() and words != key and "_" not in words
    assert re.search(r"[A-Za-z]:\S", words) is None


def test_no_two_keys_share_their_words() -> None:
    assert len({alert_in_words(key) for key in KEYS}) == len(KEYS)


def test_a_ship_is_called_by_her_name() -> None:
    """In what may be typed, and in all the log's rows, also those of before she told it; else by her MMSI."""
    key = "passing:200911077"
    assert alert_in_words(key) == "Passing: MMSI 200911077"
    known = {key: alert_in_words(key, {200911077: "ORLEN FAIR"}.get), "limit:leave": "Berth limit: leave"}
    for typed in (key, "Passing: Orlen Fair", "orlen fair"):
        assert read_entry(f"ack {typed} AB", (), known).subject == key
    with pytest.raises(EntryFault, match="may be: Passing: ORLEN FAIR, Berth limit: leave"):
        read_entry("ack : AB", (), known)
    witness = Witness()
    raised = Transition(
        T0, key, AlertState.NORMAL, AlertState.UNACKNOWLEDGED, Priority.WARNING, False, Reason.RAISED
    )
    told = Notice(T0, key, Priority.WARNING, Reason.RAISED, "DO", "what", "", "", "", "", known[key])
    for record in (raised, told, OperatorAction("AB", Action.ACKNOWLEDGE, key, (("decks_clear", True),))):
        witness.see(T0, record)
    rows = witness.log()
    assert {(row.subject, row.alert) for row in rows} == {("Passing: ORLEN FAIR", key)}
    wind = (("mean_m_s", 48 * 1852 / 3600), ("from_direction_deg", 40.0), ("gust_m_s", None))
    witness.see(T0, OperatorAction("AB", Action.WIND, values=wind))
    witness.see(T0, OperatorAction("AB", Action.DRAUGHT, values=(("forward_m", 9.1), ("aft_m", 9.6))))
    typed = [row.text for row in witness.log(2)]
    assert typed == ["forward 9.1 m, aft 9.6 m", "mean 48 kn, from direction 040°"]
    assert [row.text for row in rows] == ["acknowledge decks clear yes", "DO what", ANY]
