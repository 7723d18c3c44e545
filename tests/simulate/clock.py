"""Working time of a simulated drive: rings take their hours, Sundays and holidays are left out."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

from wearplan.site.records import Pace


class Clock:
    """Tells when things happen; moved on by rings and by stops."""

    def __init__(self, start: str, pace: Pace):
        self.now = datetime.fromisoformat(start + "T06:00:00").replace(tzinfo=UTC)
        self.pace = pace

    def _idle(self, day: date) -> bool:
        return day.weekday() >= self.pace.working_days_per_week or day in self.pace.holidays

    def work(self, hours: float) -> datetime:
        """Let that many hours of working days pass and return the time then."""
        left = timedelta(hours=hours)
        while left > timedelta(0):
            midnight = datetime.combine(self.now.date() + timedelta(days=1), datetime.min.time(), UTC)
            if self._idle(self.now.date()):
                self.now = midnight
                continue
            step = min(left, midnight - self.now)
            self.now += step
            left -= step
        return self.now

    def minute(self) -> datetime:
        """Now, to the minute."""
        return self.now.replace(second=0, microsecond=0)
