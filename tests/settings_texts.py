"""A small invented set of good settings files, for tests to break. Nothing in it is real."""

from __future__ import annotations

from pathlib import Path

from monitor.settings.load import SettingsFault, load_stay

SHIP = """\
name = "Plover Reach"
invented = true
mmsi = 200912345
loa = "90 m"
length_between_perpendiculars = "84 m"
beam = "14 m"
depth_moulded = "8 m"
summer_draught = "5.5 m"
block_coefficient = "unknown"
anemometer_above_keel = "24 m"

[windage]
type = "cargo vessel, loaded"
reference_draught = "5 m"
lateral_area = "620 m^2"
frontal_area = "180 m^2"
centroid_forward = "-4 m"
centroid_above_waterline = "5 m"
lateral_area_spread = "8 %"

[[fairleads]]
name = "F1"
forward = "41 m"
starboard = "-3 m"
above_keel = "9.5 m"
swl = "300 kN"

[[fairleads]]
name = "F2"
forward = "-41 m"
starboard = "-4 m"
above_keel = "8.5 m"
swl = "unknown"

[[winches]]
name = "W1"
kind = "drum"
render = "180 kN"
swl = "400 kN"

[[winches]]
name = "W2"
kind = "bitts"
render = "unknown"
swl = "300 kN"

[[lines]]
name = "H1"
group = "head lines"
material = "polyester"
diameter = "44 mm"
ship_design_mbl = "300 kN"
ldbf = "310 kN"
residual_strength = "90 %"
fairlead = "F1"
winch = "W1"
lead_on_deck = "8 m"
strains = ["2 %", "4 %", "5 %", "6 %", "7 %"]

[[lines]]
name = "S1"
group = "stern lines"
material = "HMPE"
diameter = "22 mm"
ship_design_mbl = "300 kN"
ldbf = "305 kN"
residual_strength = "85 %"
fairlead = "F2"
winch = "W2"
lead_on_deck = "6 m"
tail = { material = "polyester", length = "11 m", breaking_force = "380 kN" }
"""

BERTH = """\
name = "Coal Steps"
port = "Port Nowhere"
invented = true
position = { latitude = "-45 deg", longitude = "-30 deg" }
along = "090 deg"
depth_at_datum = "7 m"
exposure = "off-land"

[quay]
kind = "solid wall"
above_datum = "5 m"
begins_along = "-80 m"
ends_along = "120 m"

[[bollards]]
name = "B1"
along = "-60 m"
behind_face = "1 m"
above_datum = "5.4 m"
swl = "500 kN"

[[bollards]]
name = "B2"
along = "60 m"
behind_face = "1 m"
above_datum = "5.4 m"
swl = "unknown"

[[fenders]]
name = "K1"
along = "-20 m"
thickness = "0.8 m"
rated_reaction = "400 kN"
rated_deflection = "50 %"

[[fenders]]
name = "K2"
along = "20 m"
thickness = "1 m"
rated_reaction = "400 kN"
rated_deflection = "50 %"

[[stream]]
hours_from_high_water = -6
set = "090 deg"
rate_alongside = "0.5 kn"
rate_in_fairway = "1 kn"

[[stream]]
hours_from_high_water = 6.5
set = "270 deg"
rate_alongside = "0.5 kn"
rate_in_fairway = "1 kn"

[fairway]
width = "150 m"
depth = "9 m"
middle = [
  { latitude = "-45.003 deg", longitude = "-30.05 deg" },
  { latitude = "-45.003 deg", longitude = "-29.95 deg" },
]

[limits]
stop_cargo = { speed = "30 kn", on = "gust", averaging = "3 s", source = "invented handbook" }
disconnect = "not entered"
call_tugs = "not entered"
leave = "not entered"
"""

STAY = """\
name = "Plover Reach at Coal Steps"
invented = true
ship = "plover"
berth = "coal-steps"
alerts = "plain"
side_to = "port"
midships_along = "5 m"
draught_forward = "4.5 m"
draught_aft = "5 m"
tended_at = 2031-05-04T05:00:00Z
phase = "all fast"
local_time_ahead_of_utc = "-2 h"

[[lines]]
line = "H1"
bollard = "B2"
pretension = "20 kN"

[[lines]]
line = "S1"
bollard = "B1"
pretension = "20 kN"

[[tide]]
at = 2031-05-04T01:00:00Z
height = "3 m"
water = "high"

[[tide]]
at = 2031-05-04T07:10:00Z
height = "0.5 m"
water = "low"

[[tide]]
at = 2031-05-04T13:20:00Z
height = "3.1 m"
water = "high"

[[feeds]]
name = "ais"
carries = "ais"
over = "serial"
to = "/dev/ttyUSB0"
stale_after = "60 s"
baud = 38400

[[feeds]]
name = "anemometer"
carries = "nmea"
over = "udp"
to = "127.0.0.1:10110"
stale_after = "30 s"

[[feeds]]
name = "forecast"
carries = "met norway"
over = "http"
to = "https://127.0.0.1/compact"
stale_after = "3 h"
contact = "watch@plover.invalid"
every = "30 min"

[wind]
order = ["anemometer", "entered", "forecast"]
"""

ALERTS = """\
name = "plain"
log_file = "notices.log"

[levels]
caution = "45 %"
warning = "60 %"
alarm = "70 %"

[with_people]
caution = "35 %"
warning = "45 %"
alarm = "55 %"

[squall]
rise = "5 kn/min"
at_least = "28 kn"

[timing]
raise_after = "20 s"
clear_after = "3 min"
deadband = "7 %"
first_notice = "15 min"
act = "5 min"
clear_decks_before = "2 min"
repeat_warning = "5 min"
escalate_alarm = "2 min"
target_lost = "6 min"
"""

NAME = "plover-coal-steps"
SHIP_FILE, BERTH_FILE = "ships/plover.toml", "berths/coal-steps.toml"
STAY_FILE, ALERTS_FILE = f"stays/{NAME}.toml", "alerts/plain.toml"
GOOD = {SHIP_FILE: SHIP, BERTH_FILE: BERTH, STAY_FILE: STAY, ALERTS_FILE: ALERTS}


def write(folder: Path, files: dict[str, str] | dict[str, bytes]) -> Path:
    """The files, written below `folder`; returns it."""
    for path, text in files.items():
        (folder / path).parent.mkdir(parents=True, exist_ok=True)
        (folder / path).write_bytes(text if isinstance(text, bytes) else text.encode())
    return folder


def changed(path: str, old: str, new: str, files: dict[str, str] | None = None) -> dict[str, str]:
    """The good files with the first `old` in one of them replaced; `old` must be there."""
    files = dict(GOOD if files is None else files)
    assert old in files[path], f"{old!r} is not in {path}"
    files[path] = files[path].replace(old, new, 1)
    return files


def faults_of(folder: Path, files: dict[str, str] | dict[str, bytes], stay: str = NAME) -> str:
    """The text of all faults of the files, written to `folder`/config, without its first line; "" when none."""
    write(folder / "config", files)
    try:
        load_stay(folder / "config", stay)
    except SettingsFault as error:
        return str(error).partition("\n\n")[2].replace(f"{folder.as_posix()}/", "")
    return ""
