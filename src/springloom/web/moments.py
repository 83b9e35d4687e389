"""Moments as one speaks of them at the bench: by the clock of the machine that serves."""

from __future__ import annotations

from datetime import UTC, datetime


def when(moment: datetime) -> str:
    """``14:05`` today, ``24 Nov 2026, 14:05`` on another day."""
    here, today = moment.astimezone(), datetime.now(UTC).astimezone().date()
    clock = f"{here:%H:%M}"
    return clock if here.date() == today else f"{here.day} {here:%b %Y}, {clock}"
