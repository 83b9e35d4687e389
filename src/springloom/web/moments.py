"""Moments as one speaks of them at the bench: by the clock of the machine that serves."""

from __future__ import annotations

from datetime import UTC, datetime

from springloom.report import moments


def when(moment: datetime) -> str:
    """``14:05`` today, ``24 Nov 2026, 14:05`` on another day."""
    here, today = moment.astimezone(), datetime.now(UTC).astimezone().date()
    return f"{here:%H:%M}" if here.date() == today else moments.when(moment)
