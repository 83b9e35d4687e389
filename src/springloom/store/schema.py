"""The tables of the store as they are now; the migrations say how they came to be.

Every table has a number of its own (``id``); what a person wrote also has ``uid``, ``made_at``
and ``made_by``. Entries are added and never changed. The few columns that do change (a name, what
a paddle is made of, for whom) have every change beside them in ``change``.
"""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from sqlalchemy import (
    JSON,
    CheckConstraint,
    Column,
    Dialect,
    Float,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    String,
    Table,
    Text,
    TypeDecorator,
    UniqueConstraint,
)
from sqlalchemy.sql.schema import SchemaItem

METADATA = MetaData(naming_convention={
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_name)s",
    "pk": "pk_%(table_name)s",
})


class Moment(TypeDecorator[datetime]):
    """A moment as text in UTC, alike on every database and sorted as it reads."""

    impl = String(27)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> str | None:  # noqa: ARG002 - SQLAlchemy's signature
        """To text."""
        return None if value is None else moment_text(value)

    def process_result_value(self, value: Any, dialect: Dialect) -> datetime | None:  # noqa: ARG002 - SQLAlchemy's signature
        """From text."""
        return None if value is None else moment_of(value)


def moment_text(moment: datetime) -> str:
    """A moment as ``2026-08-01T09:30:00.000000Z``."""
    return moment.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")


def moment_of(text: str) -> datetime:
    """The moment that such a text names.

    Raises:
        ValueError: it names none.
    """
    return datetime.strptime(text, "%Y-%m-%dT%H:%M:%S.%fZ").replace(tzinfo=UTC)


def _table(name: str, *columns: SchemaItem) -> Table:
    return Table(name, METADATA, Column("id", Integer, primary_key=True), *columns,
                 sqlite_autoincrement=True)  # a number is never given twice


def _entries(name: str, *columns: SchemaItem) -> Table:
    """A table of what people wrote."""
    return _table(
        name, Column("uid", String(36), nullable=False, unique=True),
        Column("made_at", Moment, nullable=False), Column("made_by", Text, nullable=False),
        *columns,
    )


def _to(table: str, name: str = "", *, needed: bool = True) -> Column[int]:
    return Column(name or f"{table}_id", Integer, ForeignKey(f"{table}.id"),
                  nullable=not needed, index=True)


def _replaces(table: str) -> Column[int]:
    """What an entry stands in place of; no two may replace the same one."""
    return Column("replaces", Integer, ForeignKey(f"{table}.id"), nullable=True, unique=True)


def _typed(name: str, *, needed: bool = True) -> Column[Any]:
    return Column(name, JSON(none_as_null=True), nullable=not needed)


def _units() -> Column[str]:
    """The unit of lengths typed without one."""
    return Column("units", String(2), nullable=False)


def _about(*tables: str) -> list[SchemaItem]:
    """Columns of which one says what an entry is about."""
    given = " + ".join(f"(CASE WHEN {table}_id IS NULL THEN 0 ELSE 1 END)" for table in tables)
    return [*(_to(table, needed=False) for table in tables),
            CheckConstraint(f"{given} = 1", name="about_one")]


person = _entries("person", Column("name", Text, nullable=False))
body = _entries("body", _to("person"), _typed("paddler"), _units())
board = _entries("board", Column("name", Text, nullable=False))
board_sheet = _entries("board_sheet", _to("board"), _typed("table"), _units())
board_test = _entries(
    "board_test", _to("board"), Column("kind", String(20), nullable=False),
    _typed("table", needed=False), _units(), _replaces("board_test"),
)
klass = _entries("class", Column("name", Text, nullable=False), _typed("base"),
                 _to("board", needed=False))
paddle = _entries(
    "paddle", _to("person", needed=False), _to("board", needed=False),
    _to("class", needed=False),
    Column("set_aside", Integer, nullable=False),
)
design = _entries(
    "design", _to("paddle"), Column("number", Integer, nullable=False), _typed("layout"),
    Column("why", Text, nullable=False), UniqueConstraint("paddle_id", "number"),
)
tuning_round = _entries(
    "tuning_round", _to("paddle"), Column("number", Integer, nullable=False),
    UniqueConstraint("paddle_id", "number"),
)
round_closing = _entries(
    "round_closing",
    Column("round_id", Integer, ForeignKey("tuning_round.id"), nullable=False, unique=True),
    _typed("advice"), _typed("planed"), _units(),
)
reading = _entries(
    "reading", _to("tuning_round", "round_id"), Column("kind", String(20), nullable=False),
    _typed("table", needed=False), _units(), _replaces("reading"),
)
mark = _entries(
    "mark", _to("paddle"), Column("stage", Text, nullable=False),
    Column("done", Integer, nullable=False), _typed("measured"), _units(),
)
note = _entries(
    "note", *_about("paddle", "board", "person"), Column("text", Text, nullable=True),
    _replaces("note"),
)
attachment = _entries(
    "attachment", *_about("paddle", "board", "person"), Column("name", Text, nullable=False),
    Column("media_type", Text, nullable=False), Column("sha256", String(64), nullable=False),
    Column("content", LargeBinary, nullable=False),
)
change = _entries(
    "change", *_about("person", "board", "class", "paddle"), _typed("was"), _typed("now"),
)
writer = _entries(
    "writer", Column("name", Text, nullable=False), Column("address", Text, nullable=False),
    Column("revoked_at", Moment, nullable=True),
)
join_code = _table(
    "join_code", Column("code", String(12), nullable=False),
    Column("made_at", Moment, nullable=False), Column("made_by", Text, nullable=False),
    Column("until", Moment, nullable=False),
)
attempt = _table(
    "attempt", Column("address", Text, nullable=False), Column("at", Moment, nullable=False),
    Index(None, "at"),
)
setting = _table(
    "setting", Column("key", String(80), nullable=False, unique=True), _typed("value"),
)
job = _entries(
    "job", Column("kind", String(40), nullable=False), _typed("arguments"),
    Column("state", String(10), nullable=False), Column("claims", Integer, nullable=False),
    Column("beat_at", Moment, nullable=True), Column("share", Float, nullable=False),
    Column("saying", Text, nullable=False), Column("name", Text, nullable=True),
    Column("media_type", Text, nullable=True), Column("content", LargeBinary, nullable=True),
    Index(None, "state"),
)
summary = _table(
    "summary",
    Column("paddle_id", Integer, ForeignKey("paddle.id"), nullable=False, unique=True),
    Column("key", String(64), nullable=False), _typed("data"),
)
