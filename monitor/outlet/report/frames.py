"""The tables of a report for other programs: SI units in the column names, times in UTC, empty where not known."""

from __future__ import annotations

from pathlib import Path
from typing import Any, Final

import pandas as pd

from monitor.outlet.report.words import alert_name, entry, ranked, ship
from monitor.records.estimates import Band, LineLoad
from monitor.records.review import Review

MISSING: Final = "Parquet tables need pyarrow, which is not installed: pip install 'bightwatch[review]'"


def frames(review: Review) -> dict[str, pd.DataFrame]:
    """Every table by its name."""
    index = ranked(review.lines)
    rows: dict[str, list[dict[str, Any]]] = {
        "passings": [
            {
                "abeam_at": one.abeam_at,
                "mmsi": one.mmsi,
                "name": ship(one),
                "length_m": one.length_m,
                "passed": one.passed,
                "way": one.kind.value,
                "overlap_from": one.overlap_from,
                "overlap_to": one.overlap_to,
                "distance_m": one.distance_m,
                "speed_ground_m_s": one.speed_ground_m_s,
                "speed_water_m_s": one.speed_water_m_s,
                "fix_age_s": one.reckoned_s,
                "highest_alert": one.highest.value,
                **_of_line(one.heaviest),
                "utilisation_without_her": one.steady.utilisation.mid if one.steady else None,
                "estimates": one.estimates,
            }
            for one in review.passes
        ],
        "expected": [
            {
                "mmsi": one.mmsi,
                "came_abeam_at": one.abeam_at,
                "before": each.before.value,
                "at": each.at,
                "abeam_at": each.abeam_at,
                "passes": each.passes,
                **_band("distance_m", each.distance_m),
                **_band("speed_ground_m_s", each.speed_ground_m_s),
                **_band("speed_water_m_s", each.speed_water_m_s),
                **_of_line(each.heaviest),
                "chance_over_working": each.chance,
            }
            for one in review.passes
            for each in one.expected
        ],
        "wind_episodes": [
            {
                "begins": blow.begins,
                "ends": blow.ends,
                "peak_at": blow.peak_at,
                **_band("speed_30s_m_s", blow.speed_30s_m_s),
                "gust_m_s": blow.gust_m_s,
                "mean_10min_m_s": blow.mean_m_s,
                "from_direction_deg": blow.from_direction_deg,
                "rise_m_s_min": blow.rise_m_s_min,
                "rise_at": blow.rise_at,
                "forecast_mean_m_s": blow.forecast[0].mean_m_s if blow.forecast else None,
                "forecast_issued_at": blow.forecast[0].issued_at if blow.forecast else None,
                **_of_line(blow.heaviest),
                "highest_alert": blow.highest.value,
                "told_at": blow.told_at,
            }
            for blow in review.blows
        ],
        "alerts": [
            {
                "raised_at": alert.raised_at,
                "alert": alert.key,
                "about": alert_name(review, alert),
                "highest": alert.highest.value,
                "highest_at": alert.top_at,
                "unknown": alert.unknown,
                "event_at": alert.event_at,
                "lead_s": alert.lead.total_seconds() if alert.lead is not None else None,
                "lead_of_highest_s": alert.top_lead.total_seconds() if alert.top_lead is not None else None,
                "longest_wait_s": max((wait.total_seconds() for wait in alert.waits), default=None),
                "acknowledged_by": ", ".join(dict.fromkeys(by for _, at, by in alert.asked if at is not None)),
                "never_acknowledged": alert.unanswered,
                "repeated": alert.repeated,
                "escalated": alert.escalated,
                "ended_at": alert.ended_at,
            }
            for alert in review.alerts
        ],
        "entries": [
            {"at": at, "who": action.who, "action": action.action.value, "what": entry(action)}
            for at, action in review.entries
        ],
        "gaps": [
            {
                "feed": gap.feed,
                "carries": gap.carries,
                "since": gap.since,
                "until": gap.until,
                "told_at": gap.told_at,
                "detail": gap.detail,
            }
            for gap in review.gaps
        ],
        "lines": [
            {
                "line": line.line,
                "group": line.group,
                "limit_n": line.limit_n,
                "limited_by": line.limited_by,
                "unknown_limits": ", ".join(line.unknown_limits),
                "strength_n": line.strength_n,
                **_band("most_n", line.most_n),
                "most_at": line.most_at,
                "most_share": line.most_share,
                "p95_n": line.p95_n,
                "hours_above_30_percent": line.hours_above_30,
                "hours_above_50_percent": line.hours_above_50,
                "cycles": line.cycles,
                "largest_range_n": line.largest_range_n,
                "exponent": line.exponent,
                "fatigue_against_worst": index[line.line],
                "during": line.worst_of,
            }
            for line in review.lines
        ],
        "loads": [
            {"at": estimate.at, **_of_line(load)} for estimate in review.estimates for load in estimate.lines
        ],
        "wind": [
            {
                "at": e.at,
                **_band("speed_30s_m_s", e.wind.speed_30s_m_s),
                "gust_m_s": e.wind.gust_m_s,
                "mean_10min_m_s": e.wind.mean_m_s,
                "from_direction_deg": e.wind.from_direction_deg,
                "rise_m_s_min": e.wind.rise_m_s_min,
                "source": e.wind.source,
                "validity": e.validity.value,
                "water_height_m": e.water.height_m,
                "moved_ahead_m": e.moved_ahead_m,
                "moved_off_m": e.moved_off_m,
            }
            for e in review.estimates
        ],
        "other_limits": [
            {"factor": each.factor, "cautions": each.cautions, "warnings": each.warnings, "alarms": each.alarms}
            for each in review.elsewhere
        ],
    }
    return {name: pd.DataFrame(each) for name, each in rows.items() if each}


def write(tables: dict[str, pd.DataFrame], folder: Path) -> list[Path]:
    """Each table as CSV and Parquet. Raises ValueError when pyarrow is missing; the CSV are then written."""
    written = []
    for name, table in tables.items():
        table.to_csv(folder / f"{name}.csv", index=False, date_format="%Y-%m-%dT%H:%M:%S.%fZ")
        written.append(folder / f"{name}.csv")
    try:
        import pyarrow
    except ImportError:
        raise ValueError(MISSING) from None
    del pyarrow  # pandas finds it by name
    for name, table in tables.items():
        table.to_parquet(folder / f"{name}.parquet", engine="pyarrow", index=False)
        written.append(folder / f"{name}.parquet")
    return written


def _band(name: str, band: Band | None) -> dict[str, float | None]:
    if band is None:
        return {f"{name}_low": None, f"{name}_mid": None, f"{name}_high": None}
    return {f"{name}_low": band.low, f"{name}_mid": band.mid, f"{name}_high": band.high}


def _of_line(load: LineLoad | None) -> dict[str, Any]:
    if load is None:
        return {"line": None, "limited_by": None, **_band("tension_n", None), **_band("utilisation", None)}
    return {
        "line": load.line,
        "limited_by": load.limited_by,
        **_band("tension_n", load.tension_n),
        **_band("utilisation", load.utilisation),
    }
