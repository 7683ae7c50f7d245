"""The replies of an invented forecast service, in the form MET Norway's Locationforecast 2.0 "compact" has.

The forecast is a bit wrong, as forecasts are: late, and with a share of the wind that comes.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import datetime, timedelta
from email.utils import format_datetime

import numpy as np

from monitor.base.frames import wrap360
from monitor.base.units import m_s
from monitor.intake.met import Reply
from monitor.intake.simulated.winds import WindScript, scripted

_HOURS = 30
_VALID = timedelta(minutes=31)


@dataclass(frozen=True, slots=True)
class ForecastScript:
    """How the forecast errs: `share` of the true wind at 10 m (anemometer's height taken off), `late_min` late."""

    every_min: float = 30.0
    first_min: float = 0.5
    share: float = 0.8
    late_min: float = 40.0
    turned_deg: float = -8.0
    run_every_h: int = 2  # a new model run


def polls(script: ForecastScript, day_s: float) -> list[float]:
    """Seconds of the day at which the service is asked."""
    return [float(t_s) for t_s in np.arange(script.first_min * 60.0, day_s, script.every_min * 60.0)]


def reply(
    script: ForecastScript,
    wind: WindScript,
    begins_at: datetime,
    asked_at: datetime,
    latitude_deg: float,
    longitude_deg: float,
) -> Reply:
    """The answer to a question asked then: hourly steps, squalls unforeseen."""
    hour = asked_at.replace(minute=0, second=0, microsecond=0)
    run_at = hour - timedelta(hours=hour.hour % script.run_every_h) + timedelta(minutes=7)
    if run_at > asked_at:
        run_at -= timedelta(hours=script.run_every_h)
    steps = [hour + timedelta(hours=step) for step in range(_HOURS)]
    t_s = np.array([(step - begins_at).total_seconds() for step in steps])
    mean_kn, from_deg = scripted(WindScript(wind.course), t_s - 60.0 * script.late_min)
    series = [
        {
            "time": _zulu(step),
            "data": {
                "instant": {
                    "details": {
                        "air_pressure_at_sea_level": round(1011.0 - 0.4 * float(speed_kn) ** 0.5, 1),
                        "air_temperature": 12.4,
                        "relative_humidity": 78.0,
                        "wind_from_direction": round(wrap360(float(direction_deg) + script.turned_deg), 1),
                        "wind_speed": round(m_s(float(speed_kn)) * script.share, 1),
                    }
                }
            },
        }
        for step, speed_kn, direction_deg in zip(steps, mean_kn, from_deg, strict=True)
    ]
    units = {
        "air_pressure_at_sea_level": "hPa",
        "air_temperature": "celsius",
        "relative_humidity": "%",
        "wind_from_direction": "degrees",
        "wind_speed": "m/s",
    }
    body = {
        "type": "Feature",
        "geometry": {"type": "Point", "coordinates": [longitude_deg, latitude_deg, 0]},
        "properties": {"meta": {"updated_at": _zulu(run_at), "units": units}, "timeseries": series},
    }
    headers = {
        "Content-Type": "application/json",
        "Date": format_datetime(asked_at, usegmt=True),
        "Expires": format_datetime(asked_at + _VALID, usegmt=True),
        "Last-Modified": format_datetime(run_at, usegmt=True),
    }
    return Reply(200, headers, json.dumps(body, separators=(",", ":")))


def _zulu(at: datetime) -> str:
    return at.strftime("%Y-%m-%dT%H:%M:%SZ")
