"""Every page but the first: all that takes a while to load, in one place."""

from __future__ import annotations

from starlette.routing import Route

from springloom.web.pages import (
    about,
    boards,
    carve,
    classes,
    design,
    examples,
    jobs,
    logbook,
    paddles,
    people,
    plans,
    share,
    story,
    tune,
)

_PARTS = (examples, people, boards, paddles, design, plans, carve, tune, story, logbook, classes,
          jobs, share, about)
ROUTES: list[Route] = [route for part in _PARTS for route in part.ROUTES]
