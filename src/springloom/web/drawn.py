"""Designs and their sheets, worked out once for each state of a paddle and kept in memory."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass

from sqlalchemy import Connection
from starlette.requests import Request

from springloom.drawing.model import Drawing
from springloom.drawing.paper import Page
from springloom.records.design import Design, design_from
from springloom.report.all_sheets import SheetMaker
from springloom.report.words import Words
from springloom.store.kept import Kept
from springloom.store.layout import layout_of
from springloom.store.opening import Store
from springloom.store.summaries import state_key
from springloom.web.bench import store_of
from springloom.web.frame import paddle_id_of


@dataclass(frozen=True, slots=True)
class Planned:
    """A design with a mark that changes whenever anything that is drawn of it does.

    Readings and ticks change a paddle's state but none of its drawings, so they leave the mark.
    """

    design: Design
    mark: str


_PLANNED: Kept[Planned] = Kept(64)
_SHEETS: Kept[tuple[Drawing, ...]] = Kept(96)


def planned(store: Store, paddle_id: int) -> Planned:
    """Return a paddle's design as it is in the store now.

    Raises:
        InputError: what is stored makes no design; names the key as in a design file.
        NotStoredError: there is no such paddle.
    """
    with store.read() as connection:
        key = (store.url, paddle_id, state_key(connection, paddle_id))
        return _PLANNED.get(key, lambda: _planned(connection, paddle_id))


def _planned(connection: Connection, paddle_id: int) -> Planned:
    layout = layout_of(connection, paddle_id)
    said = layout.model_dump_json(exclude={"readings", "round"})
    return Planned(design_from(layout), hashlib.sha256(said.encode()).hexdigest()[:16])


def planned_of(request: Request) -> Planned:
    """Return the design of the paddle whose page was asked for; raises as :func:`planned`."""
    return planned(store_of(request), paddle_id_of(request))


def drawn(plan: Planned, maker: SheetMaker, words: Words, page: Page) -> tuple[Drawing, ...]:
    """Return one kind of sheet.

    Raises:
        SpringloomError: as the sheet's maker, where the design lacks what it shows.
    """
    return _SHEETS.get((plan.mark, maker.key, words.system, page),
                       lambda: maker.make(plan.design, words, page))
