"""People, boards, classes, paddles, rounds, readings, and who may write."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op
from sqlalchemy.sql.schema import SchemaItem

revision = "0001"
down_revision = None


def upgrade() -> None:
    """Take the step; written out here, so that it stays as it is when the tables go on."""
    _people_and_boards()
    _paddles()
    _beside()
    _ways_in()


def _people_and_boards() -> None:
    _entries("person", _text("name"))
    _entries("body", _to("person"), _json("paddler"), _units())
    _entries("board", _text("name"))
    _entries("board_sheet", _to("board"), _json("table"), _units())
    _entries("board_test", _to("board"), _short("kind", 20), _json("table", needed=False),
             _units(), _replaces("board_test"))
    _entries("class", _text("name"), _json("base"), _to("board", needed=False))


def _paddles() -> None:
    _entries("paddle", _to("person", needed=False), _to("board", needed=False),
             _to("class", needed=False), _number("set_aside"))
    _entries("design", _to("paddle"), _number("number"), _json("layout"), _text("why"),
             sa.UniqueConstraint("paddle_id", "number"))
    _entries("tuning_round", _to("paddle"), _number("number"),
             sa.UniqueConstraint("paddle_id", "number"))
    round_id = sa.ForeignKey("tuning_round.id")
    _entries("round_closing", sa.Column("round_id", sa.Integer, round_id, nullable=False,
                                        unique=True),
             _json("advice"), _json("planed"), _units())
    _entries("reading", _to("tuning_round", "round_id"), _short("kind", 20),
             _json("table", needed=False), _units(), _replaces("reading"))
    _entries("mark", _to("paddle"), _text("stage"), _number("done"), _json("measured"), _units())


def _beside() -> None:
    _entries("note", *_about("paddle", "board", "person"), _text("text", needed=False),
             _replaces("note"))
    _entries("attachment", *_about("paddle", "board", "person"), _text("name"),
             _text("media_type"), _short("sha256", 64),
             sa.Column("content", sa.LargeBinary, nullable=False))
    _entries("change", *_about("person", "board", "class", "paddle"), _json("was"), _json("now"))


def _ways_in() -> None:
    _entries("writer", _text("name"), _text("address"), _moment("revoked_at", needed=False))
    _table("join_code", _short("code", 12), _moment("made_at"), _text("made_by"),
           _moment("until"))
    _table("attempt", _text("address"),
           sa.Column("at", sa.String(27), nullable=False, index=True))
    _table("setting", sa.Column("key", sa.String(80), nullable=False, unique=True),
           _json("value"))


def _table(name: str, *columns: SchemaItem) -> None:
    op.create_table(name, sa.Column("id", sa.Integer, primary_key=True), *columns,
                    sqlite_autoincrement=True)


def _entries(name: str, *columns: SchemaItem) -> None:
    _table(name, sa.Column("uid", sa.String(36), nullable=False, unique=True),
           _moment("made_at"), _text("made_by"), *columns)


def _to(table: str, name: str = "", *, needed: bool = True) -> SchemaItem:
    return sa.Column(name or f"{table}_id", sa.Integer, sa.ForeignKey(f"{table}.id"),
                     nullable=not needed, index=True)


def _replaces(table: str) -> SchemaItem:
    return sa.Column("replaces", sa.Integer, sa.ForeignKey(f"{table}.id"), unique=True)


def _about(*tables: str) -> list[SchemaItem]:
    given = " + ".join(f"(CASE WHEN {table}_id IS NULL THEN 0 ELSE 1 END)" for table in tables)
    return [*(_to(table, needed=False) for table in tables),
            sa.CheckConstraint(f"{given} = 1", name="about_one")]


def _json(name: str, *, needed: bool = True) -> SchemaItem:
    return sa.Column(name, sa.JSON, nullable=not needed)


def _text(name: str, *, needed: bool = True) -> SchemaItem:
    return sa.Column(name, sa.Text, nullable=not needed)


def _short(name: str, most: int) -> SchemaItem:
    return sa.Column(name, sa.String(most), nullable=False)


def _moment(name: str, *, needed: bool = True) -> SchemaItem:
    return sa.Column(name, sa.String(27), nullable=not needed)


def _number(name: str) -> SchemaItem:
    return sa.Column(name, sa.Integer, nullable=False)


def _units() -> SchemaItem:
    return sa.Column("units", sa.String(2), nullable=False)
