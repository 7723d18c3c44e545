"""The forms of what stands in a site folder: building blocks, and site.toml.

These models meet the files and nothing else; what the rooms work with are the records of `wearplan.site.records`.
Units are in the keys. Numbers are strict (no text, no true/false) and finite, and held to a range that no shield
on earth leaves, so that a slip of the decimal point is noticed.
"""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field


class Strict(BaseModel):
    """A table whose keys are all known and whose values need no guessing."""

    model_config = ConfigDict(extra="forbid", strict=True, allow_inf_nan=False, defer_build=True)


# one line, no blanks around it, not the mark of a thing to fill in
Name = Annotated[str, Field(max_length=120, pattern=r"^([^\s?]|\S[^\r\n]*\S)$")]
Line = Annotated[str, Field(max_length=400, pattern=r"^([^\r\n?]|[^\r\n]{2,})?$")]
Note = Annotated[str, Field(max_length=10_000)]
Chainage = Annotated[float, Field(ge=-1e6, le=1e6)]
Share = Annotated[float, Field(ge=0, le=1)]
Money = Annotated[float, Field(ge=0, le=1e12)]
Hours = Annotated[float, Field(ge=0, le=20_000)]
Days = Annotated[float, Field(ge=0, le=3650)]
PressureBar = Annotated[float, Field(ge=0, le=30, description="bar gauge at the tunnel axis")]
WearMm = Annotated[float, Field(ge=0, le=1000, description="mm, radial or of height")]
PositionNumber = Annotated[int, Field(ge=0, le=99_999)]
Radius = Annotated[float, Field(ge=0, le=15_000)]
RingNumber = Annotated[int, Field(ge=-1000, le=1_000_000)]
Angle = Annotated[float, Field(ge=-360, le=360)]

Kind = Literal["disc", "scraper", "ripper", "bucket tool", "centre tool", "copy tool"]
Zone = Literal["centre", "face", "gauge"]
Mode = Literal["free air", "compressed air", "mixed gas", "saturation", "divers"]


class DriveTable(Strict):
    start_chainage_m: Chainage = Field(description="Chainage of the face where the drive starts.")
    end_chainage_m: Chainage = Field(
        description="Chainage where it ends; smaller than the start where chainage falls as the drive advances."
    )
    ring_length_m: float = Field(gt=0.1, le=5, description="Length of one ring.")
    face_ahead_of_ring_m: float = Field(
        0.0,
        ge=0,
        le=50,
        description="Distance from the last built ring to the face; chainages of this folder are the face's.",
    )


class ChainageEquationTable(Strict):
    back_m: Chainage = Field(description="Chainage on the side the drive comes from ...")
    ahead_m: Chainage = Field(description="... that has this chainage on the side it goes to.")


class PaceTable(Strict):
    advance_m_per_day: float = Field(gt=0, le=200, description="Per working day, net of planned stops.")
    advance_doubt: float = Field(0.2, ge=0, le=2, description="Relative standard deviation of the mean pace to come.")
    working_days_per_week: int = Field(6, ge=1, le=7)
    holidays: list[dt.date] = Field(default=[], max_length=5000)


class SiteFile(Strict):
    """site.toml: the drive, and the pace that turns chainage into dates."""

    format: int = Field(ge=1, description="Version of the folder's format.")
    name: Name = Field(description="What the drive is called.")
    invented: bool = Field(False, description="True for demo data; said on every output.")
    currency: Name = Field("EUR", description="A label only.")
    jurisdiction: Name | None = Field(
        None,
        description="Whose published compressed-air rules the cautions point to, such as GB; absent: unknown, and "
        "said so.",
    )
    drive: DriveTable
    pace: PaceTable
    chainage_equation: list[ChainageEquationTable] = Field(
        default=[], max_length=200, description="Where the alignment's chainage jumps: back_m = ahead_m."
    )
