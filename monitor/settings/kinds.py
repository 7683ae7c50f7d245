"""The kinds of value that settings files hold, each with its unit and range, and the base of all tables."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated

from pydantic import BaseModel, ConfigDict

from monitor.settings.quantity import UNKNOWN, instant, quantity, quantity_or, text, truth

Name = Annotated[str, text(60)]
Text = Annotated[str, text(500)]
Truth = Annotated[bool, truth()]
Instant = Annotated[datetime, instant()]
Length = Annotated[float, quantity("m", 1.0, 500.0, "1 m to 500 m")]
Place = Annotated[float, quantity("m", -600.0, 2000.0, "-600 m to 2000 m")]
Height = Annotated[float, quantity("m", -15.0, 80.0, "-15 m to 80 m")]
Depth = Annotated[float, quantity("m", 1.0, 100.0, "1 m to 100 m")]
Draught = Annotated[float, quantity("m", 0.5, 25.0, "0.5 m to 25 m")]
Force = Annotated[float, quantity("N", 1e3, 1e7, "1 kN to 10 000 kN")]
Pretension = Annotated[float, quantity("N", 0.0, 1e6, "0 kN to 1000 kN")]
Direction = Annotated[float, quantity("deg", 0.0, 360.0, "000 deg to 360 deg, true")]
WindSpeed = Annotated[float, quantity("m/s", 0.5, 80.0, "1 kn to 155 kn")]
CurrentSpeed = Annotated[float, quantity("m/s", 0.0, 5.0, "0 kn to 9.7 kn")]
Share = Annotated[float, quantity("dimensionless", 0.0, 1.0, "0 % to 100 %")]
Seconds = Annotated[float, quantity("s", 0.0, 86400.0, "0 s to 24 h")]
Latitude = Annotated[float, quantity("deg", -85.0, 85.0, "-85 deg to 85 deg, north positive")]
Longitude = Annotated[float, quantity("deg", -180.0, 180.0, "-180 deg to 180 deg, east positive")]
ForceOrUnknown = Annotated[float | None, quantity_or(UNKNOWN, "N", 1e3, 1e7, "1 kN to 10 000 kN")]
AreaOrUnknown = Annotated[float | None, quantity_or(UNKNOWN, "m^2", 10.0, 30000.0, "10 m^2 to 30000 m^2")]
PlaceOrUnknown = Annotated[float | None, quantity_or(UNKNOWN, "m", -600.0, 2000.0, "-600 m to 2000 m")]
HeightOrUnknown = Annotated[float | None, quantity_or(UNKNOWN, "m", -15.0, 80.0, "-15 m to 80 m")]
DeflectionOrUnknown = Annotated[float | None, quantity_or(UNKNOWN, "dimensionless", 0.05, 0.95, "5 % to 95 %")]
BlockCoefficient = Annotated[float | None, quantity_or(UNKNOWN, "dimensionless", 0.35, 0.95, "35 % to 95 %")]


class Strict(BaseModel):
    """Base of all settings: unknown keys are faults, values cannot be changed afterwards."""

    model_config = ConfigDict(extra="forbid", frozen=True)
