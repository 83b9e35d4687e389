"""Moments as a log writes them, in this machine's own time."""

from __future__ import annotations

from datetime import datetime

_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def day(moment: datetime) -> str:
    """``25 Nov 2026``; the same in every locale."""
    here = moment.astimezone()
    return f"{here.day} {_MONTHS[here.month - 1]} {here.year}"


def when(moment: datetime) -> str:
    """``25 Nov 2026, 14:03``."""
    return f"{day(moment)}, {moment.astimezone():%H:%M}"


def by_whom(who: str, moment: datetime) -> str:
    """``Ann, 25 Nov 2026, 14:03``."""
    return f"{who}, {when(moment)}"
