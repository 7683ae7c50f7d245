"""ALF, ALC, ARC, HBT and ACN against published examples and the open parser pynmeagps.

Published: two sentences of JRC's JFE-680 manual, as collected in our reference, their checksums right:
`$SDALF,1,1,4,101423,B,C,A,JMC,230,1,5,0,DEPTH BELOW KEEL*59` and `$SDALC,01,01,32,1,JMC,230,1,4*19`. Letters of
states and commands as in the same manual and Furuno's FMD-3300 and BR-500.
"""

from __future__ import annotations

import socket
import threading
import time
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from monitor.outlet.alert_sentences import LONGEST, AlertSentences, Command, escaped
from monitor.outlet.bridge import Bridge
from monitor.records.events import Action, AlertState, Notice, OperatorAction, Priority, Reason, Transition
from monitor.settings.schema import BridgeAlerts
from tests.composed import sealed

T0 = datetime(2026, 3, 14, 9, 22, 11, tzinfo=UTC)
N, V, S, A, U = (
    AlertState.NORMAL,
    AlertState.UNACKNOWLEDGED,
    AlertState.SILENCED,
    AlertState.ACKNOWLEDGED,
    AlertState.RECTIFIED,
)
PUBLISHED_ALF = "$SDALF,1,1,4,101423,B,C,A,JMC,230,1,5,0,DEPTH BELOW KEEL*59"
PUBLISHED_ALC = "$SDALC,01,01,32,1,JMC,230,1,4*19"


def change(
    before: AlertState,
    after: AlertState,
    second: int = 0,
    key: str = "wind",
    priority: Priority = Priority.WARNING,
) -> Transition:
    return Transition(T0 + timedelta(seconds=second), key, before, after, priority, False, Reason.RAISED)


def fields(line: str) -> list[str]:
    assert line.endswith("\r\n") and len(line) <= LONGEST and line.strip() == sealed(line.partition("*")[0])
    return line.partition("*")[0].split(",")


def parsed(line: str) -> Any:
    pynmeagps = pytest.importorskip("pynmeagps")
    return pynmeagps.NMEAReader.parse(line.strip().encode() + b"\r\n", validate=pynmeagps.VALCKSUM)


def test_the_published_examples_have_our_layout() -> None:
    """Field for field: the same number of them, and each of ours parses into the same attributes."""
    ours = AlertSentences("SD", "JMC").take(change(N, V, key="ahead", priority=Priority.CAUTION))[0]
    assert len(fields(ours)) == len(PUBLISHED_ALF.split(","))
    theirs = parsed(PUBLISHED_ALF)
    names = {name for name in vars(theirs) if not name.startswith("_")}
    assert {name for name in vars(parsed(ours)) if not name.startswith("_")} == names
    sentences = AlertSentences("SD", "JMC")
    sentences.take(change(N, V))
    (listed,) = sentences.listing()
    assert len(fields(listed)) == len(PUBLISHED_ALC.split(","))
    assert parsed(listed).identity == parsed(PUBLISHED_ALC).identity == "SDALC"


def test_the_life_of_an_alert() -> None:
    s = AlertSentences("NS", "XYZ")
    chain = [
        change(N, V),
        change(V, S, 4),
        change(S, A, 29),
        change(A, V, 300, priority=Priority.ALARM),
        change(V, U, 829, priority=Priority.ALARM),
        change(U, N, 841, priority=Priority.ALARM),
    ]
    told = [fields(line)[4:] for each in chain for line in s.take(each)]
    assert [(row[0], row[2], row[3], row[7], row[8]) for row in told] == [
        ("092211.00", "W", "V", "1", "0"),
        ("092215.00", "W", "S", "2", "0"),
        ("092240.00", "W", "A", "3", "0"),
        ("092711.00", "A", "V", "4", "1"),  # escalated once
        ("093600.00", "A", "U", "5", "1"),
        ("093612.00", "A", "N", "6", "1"),
    ]
    assert all(row[1] == "B" and row[4:7] == ["XYZ", "10202", "1"] and row[9] == "LINE LOAD WIND" for row in told)
    assert fields(s.listing()[0])[4] == "0"  # nothing stands


def test_two_ships_are_two_instances_and_a_long_text_is_cut_to_the_line() -> None:
    s = AlertSentences("NS", "XYZ")
    text = "CLEAR BOTH MOORING DECKS, 230 m 12 kn *in* 6 min – γ " + "x" * 200
    first, second = s.take(change(N, V, key="passing:200911001"), text)
    assert fields(first)[1:3] == ["2", "1"] and fields(second)[1:3] == ["2", "2"]
    assert fields(second)[4:8] == ["", "", "", ""]  # time, category, priority and state stand in the first
    assert fields(second)[13].startswith("CLEAR BOTH MOORING DECKS^2C 230 m")
    other = fields(s.take(change(N, V, key="passing:200911002"))[0])
    assert (fields(first)[9:11], other[9:11]) == (["10201", "1"], ["10201", "2"])
    assert parsed(first).identity == "NSALF"


def test_revisions_go_round_at_99() -> None:
    s = AlertSentences("NS", "XYZ")
    revisions = [int(fields(s.take(change(V, V, n))[0])[11]) for n in range(120)]
    assert revisions[:2] == [1, 2] and revisions[98:101] == [99, 1, 2]


def test_a_long_list_goes_in_several_sentences() -> None:
    s = AlertSentences("NS", "XYZ")
    for n in range(11):
        s.take(change(N, V, key=f"feed:{n}"))
    rows = [fields(line) for line in s.listing()]
    assert sum(int(row[4]) for row in rows) == 11
    assert all(int(row[1]) == len(rows) and len(row) == 5 + 4 * int(row[4]) for row in rows)
    assert len({row[3] for row in rows}) == 1  # one list, one number


def test_heartbeat() -> None:
    s = AlertSentences("NS", "XYZ")
    assert [fields(s.heartbeat())[1:] for _ in range(11)][::10] == [["30.0", "A", "1"], ["30.0", "A", "1"]]
    assert parsed(s.heartbeat(False)).identity == "NSHBT"


@pytest.mark.parametrize(
    ("sentence", "answer"),
    [
        (sealed("$BNACN,092215.00,XYZ,10202,1,S,C"), (Command.SILENCE, "wind")),
        (sealed("$BNACN,092240.50,XYZ,10202,1,A,C"), (Command.ACKNOWLEDGE, "wind")),
        (sealed("$BNACN,092240.50,XYZ,10202,1,Q,C"), (Command.REQUEST, "wind")),
        (sealed("$BNACN,092300.00,,0,,Q,C"), (Command.REQUEST, "")),
        (sealed("$BNACN,092240.50,XYZ,10202,1,A,"), None),  # without the C it is no command (Furuno BR-500)
        (sealed("$BNACN,092240.50,ABC,10202,1,A,C"), None),  # another maker's alert
        ("$BNACN,092240.50,XYZ,10202,1,A,C*00", None),
        (sealed("$BNACN,092240.50,XYZ,10202,1,O,C"), "XYZ,10202,1,O"),  # we keep the duty to warn
        (sealed("$BNACN,092240.50,XYZ,10202,2,A,C"), "XYZ,10202,2,A"),  # no such alert
        (sealed("$BNACN,092240.50,XYZ,10203,1,A,C"), "XYZ,10203,1,A"),  # a caution is not acknowledged
        (sealed("$IIMWV,214.8,R,12.4,N,A"), None),
        ("", None),
    ],
)
def test_commands(sentence: str, answer: tuple[Command, str] | str | None) -> None:
    s = AlertSentences("NS", "XYZ")
    s.take(change(N, V))
    s.take(change(N, A, key="ahead", priority=Priority.CAUTION))
    got = s.command(sentence, T0)
    if isinstance(answer, str):
        assert isinstance(got, str) and fields(got)[0] == "$NSARC"
        assert ",".join(fields(got)[2:]) == answer and parsed(got).identity == "NSARC"
    else:
        assert got == answer


def test_reserved_characters_are_escaped() -> None:
    assert escaped("a,b*c^d!e\\f", 99) == "a^2Cb^2Ac^5Ed^21e^5Cf"
    assert escaped("a,b", 3) == "a"  # never half an escape


def test_over_a_socket_of_this_computer() -> None:
    """Raised, listed, beating; acknowledged from the bridge; a broken wire is opened again and told anew."""
    heard: list[str] = []
    entered: list[OperatorAction] = []
    with socket.create_server(("127.0.0.1", 0)) as listener:
        listener.settimeout(10.0)
        port = listener.getsockname()[1]
        settings = BridgeAlerts.model_validate(
            {"to": f"socket://127.0.0.1:{port}", "talker": "NS", "maker": "XYZ"}
        )
        bridge = Bridge(settings, entered.append, lambda: T0)
        bridge.take(Notice(T0, "wind", Priority.WARNING, Reason.RAISED, "CALL CHIEF", "FS1", "", "", "", ""))
        bridge.take(change(N, V))
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr("monitor.outlet.bridge.RETRY_S", 0.05)
            bridge.start()
            try:
                for turn in range(2):
                    wire, _ = listener.accept()
                    wire.settimeout(10.0)
                    with wire:
                        text = ""
                        while text.count("ALF") < 2 or "HBT" not in text or "ALC" not in text:
                            text += wire.recv(4096).decode("ascii")
                        heard += text.split("\r\n")
                        if turn == 0:
                            wire.sendall((sealed("$BNACN,092240.50,XYZ,10202,1,A,C") + "\r\n").encode())
                            begun_s = time.perf_counter()
                            while not entered:
                                assert time.perf_counter() - begun_s < 10.0
                                time.sleep(0.01)
            finally:
                bridge.close()
    assert entered == [OperatorAction("bridge", Action.ACKNOWLEDGE, "wind")]
    assert any("LINE LOAD WIND" in line for line in heard) and any("CALL CHIEF FS1" in line for line in heard)
    assert not bridge.is_alive() and threading.current_thread().is_alive()
