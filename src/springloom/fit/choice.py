"""Which of these boards for this paddle: each looked at alike, the best first."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from springloom.errors import UnreachableError
from springloom.fit.bend import BendDesign, Limits, Target, design_blades_for_bend
from springloom.mechanics.mass import mass_properties
from springloom.mechanics.setups import tip_deflection
from springloom.mechanics.strength import SAFE_MARGIN, Margin, margins
from springloom.shape.blank import Shortfall, shortfalls
from springloom.shape.paddle import Paddle
from springloom.wood.assess import BoardAssessment
from springloom.wood.material import material_from
from springloom.wood.verdict import GRADES, Verdict, judge

Ground = Literal["size", "verdict", "bend", "strength", "weight"]
GROUNDS: tuple[Ground, ...] = ("size", "verdict", "bend", "strength", "weight")
"""What boards are put in order by, the first first (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Suitability:
    """What one board would make of a paddle.

    Attributes:
        assessment: what is known of the board.
        verdict: whether it may become a loom.
        lacks: what it is short of for the solid blank; empty where the paddle fits.
        tip_m: how far blade A's tip sinks in the target's set-up with the crowns as they are, m.
        made: both blades with the crowns for the wanted bend; None where none is wanted, or no
            such blade stays inside the limits.
        refused: why there is none; None otherwise.
        mass_kg: of the bare paddle, with those crowns where they are known.
        weakest: the load case with the least margin, of the same paddle.
    """

    assessment: BoardAssessment
    verdict: Verdict
    lacks: tuple[Shortfall, ...]
    tip_m: float
    made: tuple[BendDesign, BendDesign] | None
    refused: UnreachableError | None
    mass_kg: float
    weakest: Margin

    @property
    def fits(self) -> bool:
        """Whether the paddle comes out of it, allowances kept."""
        return not self.lacks

    @property
    def fits_bare(self) -> bool:
        """Whether it comes out if nothing is spent on truing and trimming."""
        return all(lack.only_allowance for lack in self.lacks)

    @property
    def order(self) -> tuple[float, ...]:
        """What it is put in order by, one number for each of :data:`GROUNDS`; less is better."""
        return (_rank(self.lacks), float(GRADES.index(self.verdict.grade)),
                float(self.refused is not None),
                float(self.weakest.margin < SAFE_MARGIN), self.mass_kg)

    def behind(self, other: Suitability) -> Ground | None:
        """Return what puts it behind another, None where nothing does."""
        for ground, mine, its in zip(GROUNDS, self.order, other.order, strict=True):
            if mine != its:
                return ground if mine > its else None
        return None


def suitability(paddle: Paddle, board: BoardAssessment, target: Target | None,
                limits: Limits) -> Suitability:
    """Return what a board would make of a solid paddle of this outline."""
    build = material_from(board)
    made: tuple[BendDesign, BendDesign] | None = None
    refused = None
    if target is not None:
        try:
            made = design_blades_for_bend(paddle, build, target, limits)
        except UnreachableError as error:
            refused = error
    carved = paddle if made is None else Paddle(made[0].half, made[1].half)
    setup = None if target is None else target.setup(paddle.a)
    size = (board.board.length_m, board.board.width_m, board.board.thickness_m)
    turned = () if carved.is_symmetric else margins(Paddle(carved.b, carved.a), build)
    return Suitability(
        board, judge(board), shortfalls(carved, *size), tip_deflection(paddle.a, build, setup),
        made, refused, mass_properties(carved, build).mass_kg,
        min((*margins(carved, build), *turned), key=lambda one: one.margin),
    )


def promise(paddle: Paddle, board: BoardAssessment) -> tuple[float, ...]:
    """Return what a board promises before it is reckoned through; less is better.

    The size for the paddle as it is drawn, the verdict, the weight of the wood.
    """
    size = (board.board.length_m, board.board.width_m, board.board.thickness_m)
    return (_rank(shortfalls(paddle, *size)), float(GRADES.index(judge(board).grade)),
            board.after.density_kg_m3.median)


def _rank(lacks: Iterable[Shortfall]) -> float:
    """0 where the paddle comes out of the board, 1 where only the bare one does, 2 else."""
    return max((1.0 if lack.only_allowance else 2.0 for lack in lacks), default=0.0)


def in_order(found: Iterable[Suitability]) -> list[int]:
    """Return the places of the boards in the order given, the best one's first."""
    orders = [one.order for one in found]
    return sorted(range(len(orders)), key=orders.__getitem__)
