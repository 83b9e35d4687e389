"""Letting other devices in: a short code for some minutes, and a limit to guessing."""

from __future__ import annotations

import hmac
import secrets
import uuid
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from sqlalchemy import Connection, delete, func, select

from springloom.errors import InputError, RateError, in_range
from springloom.store import schema
from springloom.store.opening import Pen, Store
from springloom.store.writers import Writer, welcome

DIGITS = 6
WRONG_PER_ADDRESS = 5
WRONG_IN_ALL = 20
WITHIN = timedelta(minutes=10)
LONGEST_MINUTES = 24 * 60


@dataclass(frozen=True)
class Share:
    """An invitation that is open, until when (UTC)."""

    code: str
    until: datetime


def open_share(pen: Pen, minutes: float) -> str:
    """Invite others for some minutes; return the code. An earlier one no longer counts."""
    in_range(minutes, "minutes", 1, LONGEST_MINUTES, "min")
    close_share(pen)
    code = f"{secrets.randbelow(10**DIGITS):0{DIGITS}d}"
    pen.connection.execute(schema.join_code.insert().values(
        code=code, made_at=pen.at, made_by=pen.by, until=pen.at + timedelta(minutes=minutes)))
    return code


def share_now(connection: Connection) -> Share | None:
    """The invitation that is open now."""
    table = schema.join_code
    row = connection.execute(select(table).where(table.c.until > datetime.now(UTC))
                             .order_by(table.c.id.desc()).limit(1)).one_or_none()
    return None if row is None else Share(row.code, row.until)


def close_share(pen: Pen) -> None:
    """Invite nobody any more; who is in stays in."""
    pen.connection.execute(delete(schema.join_code))


def try_join(store: Store, code: str, name: str, address: str) -> Writer:
    """Let in whoever knows the code.

    Raises:
        InputError: the code is wrong, or nobody is invited now.
        RateError: too many wrong codes in ten minutes, from this address or in all.
    """
    with store.write(name.strip() or address) as pen:
        _refuse_guessers(pen, address)
        share = share_now(pen.connection)
        typed = "".join(code.split())
        if share is not None and hmac.compare_digest(share.code.encode(), typed.encode()):
            return welcome(pen, str(uuid.uuid4()), name, address)
        pen.connection.execute(schema.attempt.insert().values(address=address, at=pen.at))
    raise InputError("is not the code, or nobody is invited now", field="code",
                     allowed=f"the {DIGITS} digits on the page Share, at the machine that serves")


def _refuse_guessers(pen: Pen, address: str) -> None:
    table = schema.attempt
    pen.connection.execute(delete(table).where(table.c.at < pen.at - WITHIN))
    counted = select(table.c.address, func.count()).group_by(table.c.address)
    wrong: dict[str, int] = {row[0]: row[1] for row in pen.connection.execute(counted)}
    if wrong.get(address, 0) >= WRONG_PER_ADDRESS or sum(wrong.values()) >= WRONG_IN_ALL:
        raise RateError("too many wrong codes", field="code",
                        allowed=f"another try in {WITHIN.seconds // 60} minutes")
