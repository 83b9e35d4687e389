"""From a design to what is sawn and bought: the blank, its strips, the glue, the board's verdict.

Lengths in m. Strips are clipped to the squared blank; the layup's origin is the blank's middle
line, its height nought the paddle's edge.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache

from springloom.fit.packing import SLIGHT, Bought, Item, Placed, lay, shop, totals
from springloom.mechanics.stiffness import Build
from springloom.shape.blank import Allowances, Blank, Shortfall, blank_for, profile, shortfalls
from springloom.shape.nest import Nest, Pair, pair
from springloom.shape.paddle import Paddle
from springloom.wood.board import Board
from springloom.wood.elastic import Ring
from springloom.wood.layup import Layup, Strip
from springloom.wood.material import Material
from springloom.wood.species import Group, all_species
from springloom.wood.stock import Market, Surface, stock_for

GLUE_SPREAD_KG_M2 = 0.25
"""Glue on one joint, both faces wetted, kg/m² (common practice, no source)."""

DEAR = 1.25
"""Times the wood for which nobody would take the other surface (common practice, no source)."""

_TOUCH = 1e-6  # m; strips whose edges were typed in inches


@dataclass(frozen=True, slots=True)
class Piece:
    """Like pieces of the blank, planed sizes, m.

    ``numbers`` are places in the layup, counted from 1; empty for a solid blank. Grain runs
    along the length of every piece.
    """

    wood: str
    group: Group
    numbers: tuple[int, ...]
    length_m: float
    width_m: float
    thickness_m: float
    ring: Ring = "mixed"

    @property
    def count(self) -> int:
        """How many are needed."""
        return max(len(self.numbers), 1)

    def items(self, owner: str = "") -> tuple[Item, ...]:
        """Return the same for the saw; ``owner`` is put before each label."""
        labels = [f"strip {n}" for n in self.numbers] or ["blank"]
        return tuple(Item(f"{owner} {label}".strip(), self.length_m, self.width_m,
                          self.thickness_m, bool(self.numbers)) for label in labels)


@dataclass(frozen=True, slots=True)
class BoardCheck:
    """Whether a board yields what is wanted of it.

    Attributes:
        board: the board.
        shortfalls: what it lacks for a solid blank; empty where strips are sawn from it.
        nest: how two paddles would lie in it (``nest.fits`` says whether); None for strips.
        placed: the strips that come out of it.
        left: the strips of its wood that don't.
    """

    board: Board
    shortfalls: tuple[Shortfall, ...] = ()
    nest: Nest | None = None
    placed: tuple[Placed, ...] = ()
    left: tuple[Item, ...] = ()

    @property
    def fits(self) -> bool:
        """Whether all comes out of it, allowances kept."""
        return not self.shortfalls and not self.left

    @property
    def fits_bare(self) -> bool:
        """Whether all comes out of it if nothing is spent on truing and trimming."""
        return not self.left and all(s.only_allowance for s in self.shortfalls)


@dataclass(frozen=True, slots=True)
class CutList:
    """What to saw for one paddle.

    Attributes:
        blank: the squared blank.
        pieces: what it is made of; one piece if solid.
        glue_area_m2: of all glued joints.
        allow: what saw and plane were allowed.
        check: the verdict on the maker's own board; None if there is none, or it is no part of
            this blank.
    """

    blank: Blank
    pieces: tuple[Piece, ...]
    glue_area_m2: float
    allow: Allowances
    check: BoardCheck | None

    @property
    def is_laminated(self) -> bool:
        """Whether anything is glued."""
        return bool(self.pieces[0].numbers)

    @property
    def glue_kg(self) -> float:
        """Glue for all joints at :data:`GLUE_SPREAD_KG_M2`, kg."""
        return GLUE_SPREAD_KG_M2 * self.glue_area_m2


@dataclass(frozen=True, slots=True)
class Option:
    """One way to buy the wood: ``paddles`` from these boards; ``nest`` where outlines interlock."""

    market: Market
    paddles: int
    boards: tuple[Bought, ...]
    nest: Nest | None = None


def cut_list(paddle: Paddle, build: Build, board: Board | None = None,
             allow: Allowances | None = None) -> CutList:
    """Return what to saw for a paddle of this build, and whether ``board`` yields it."""
    allow = allow or Allowances()
    blank = blank_for(paddle, allow)
    if isinstance(build, Material):
        group = group_of(build.name)
        whole = Piece(build.name, group, (), blank.length_m, blank.width_m, blank.thickness_m,
                      "mixed" if board is None else board.ring)
        check = None if board is None else _check_solid(paddle, board, allow)
        return CutList(blank, (whole,), 0.0, allow, check)
    strips = clipped(build, blank)
    pieces = _pieces(strips, blank.length_m)
    made = CutList(blank, pieces, glue_area_m2(strips, blank.length_m), allow, None)
    return made if board is None else replace(made, check=_check_strips(made, board))


def _check_solid(paddle: Paddle, board: Board, allow: Allowances) -> BoardCheck:
    lacking = shortfalls(paddle, board.length_m, board.width_m, board.thickness_m, allow)
    return BoardCheck(board, lacking, pair_of(paddle, allow).in_board(board.length_m,
                                                                      board.width_m))


def _check_strips(made: CutList, board: Board) -> BoardCheck | None:
    wanted = [item for piece in made.pieces if piece.wood == board.wood.common_name
              for item in piece.items()]
    if not wanted:
        return None
    thickness = board.thickness_m - 2.0 * made.allow.planing_m
    placed, left = lay(wanted, board.length_m, board.width_m, thickness, made.allow)
    return BoardCheck(board, placed=placed, left=left)


def pair_of(paddle: Paddle, allow: Allowances) -> Pair:
    """Return two such paddles as outlines to nest."""
    line = profile(paddle)
    return pair(line, line, allow)


def clipped(layup: Layup, blank: Blank) -> tuple[tuple[int, Strip], ...]:
    """Return the strips as far as they lie in the squared blank, numbered as in the layup."""
    half = 0.5 * blank.width_m
    found = []
    for number, strip in enumerate(layup.strips, 1):
        edges = (max(strip.y_min_m, -half), min(strip.y_max_m, half),
                 max(strip.z_min_m, -blank.below_m), min(strip.z_max_m, blank.above_m))
        if edges[1] - edges[0] > _TOUCH and edges[3] - edges[2] > _TOUCH:
            found.append((number, Strip(strip.material, *edges, strip.ring)))
    return tuple(found)


def _pieces(strips: tuple[tuple[int, Strip], ...], length: float) -> tuple[Piece, ...]:
    """Put strips of one wood and size together, in the layup's order."""
    found: dict[tuple[str, Ring, float, float], list[int]] = {}
    for number, s in strips:
        size = (round(s.y_max_m - s.y_min_m, 6), round(s.z_max_m - s.z_min_m, 6))
        found.setdefault((s.material.name, s.ring, *size), []).append(number)
    return tuple(Piece(wood, group_of(wood), tuple(numbers), length, width, thickness, ring)
                 for (wood, ring, width, thickness), numbers in found.items())


def glue_area_m2(strips: tuple[tuple[int, Strip], ...], length_m: float) -> float:
    """Area of the joints between strips that touch, m²."""
    total = 0.0
    for i, (_, a) in enumerate(strips):
        for _, b in strips[:i]:
            y = min(a.y_max_m, b.y_max_m) - max(a.y_min_m, b.y_min_m)
            z = min(a.z_max_m, b.z_max_m) - max(a.z_min_m, b.z_min_m)
            if abs(y) <= _TOUCH < z:
                total += z
            elif abs(z) <= _TOUCH < y:
                total += y
    return total * length_m


def options(made: CutList, paddle: Paddle, market: Market) -> tuple[Option, ...]:
    """Ways to buy in a market: for one paddle planed and sawn, then for two the least wood.

    Of planed and sawn the one that costs more than :data:`DEAR` times the other is left out.
    """
    kinds: tuple[Surface, ...] = ("planed", "sawn")
    single = [Option(market, 1, boards) for surface in kinds
              if (boards := _boards(made, market, 1, surface))]
    single = [option for option in single if _paid(option) <= DEAR * min(map(_paid, single))]
    double = [Option(market, 2, boards)] if (boards := _boards(made, market, 2, None)) else []
    nested = None if made.is_laminated else _nested(made, paddle, market)
    if nested is not None and (not double or _paid(nested) < 0.999 * _paid(double[0])):
        double = [nested]
    return (*single, *double)


def _paid(option: Option) -> float:
    return totals(option.boards)[0]


def _boards(made: CutList, market: Market, count: int,
            surface: Surface | None) -> tuple[Bought, ...]:
    """Boards for some paddles, wood by wood; empty if any wood can't be had so."""
    boards: list[Bought] = []
    for wood in dict.fromkeys(piece.wood for piece in made.pieces):
        of_wood = [piece for piece in made.pieces if piece.wood == wood]
        items = [item for _ in range(count) for piece in of_wood for item in piece.items()]
        bought = shop(items, market, of_wood[0].group, made.allow, surface)
        if bought is None:
            return ()
        boards += bought
    return tuple(boards)


def _nested(made: CutList, paddle: Paddle, market: Market) -> Option | None:
    """Find the least board that holds two outlines shifted past each other."""
    both, piece = pair_of(paddle, made.allow), made.pieces[0]
    best: tuple[float, Option] | None = None
    for stock in stock_for(market, piece.group):
        planing = made.allow.sawn_m if stock.surface == "sawn" else 0.0
        if stock.thickness_m - 2.0 * planing < piece.thickness_m - SLIGHT:
            continue
        for length in stock.lengths_m:
            nest = both.in_board(length, stock.width_m)
            if nest.fits and nest.kind == "shifted" and (
                    best is None or stock.board_feet(length) < best[0]):
                lies = tuple(Placed(item, 0.0, 0.0, piece.width_m, piece.thickness_m)
                             for item in (*piece.items(), *piece.items()))
                best = (stock.board_feet(length),
                        Option(market, 2, (Bought(stock, length, lies),), nest))
    return None if best is None else best[1]


@cache
def group_of(wood: str) -> Group:
    """Softwood or hardwood, by a wood's common name; softwood where nobody knows it."""
    return next((s.group for s in all_species() if s.common_name == wood), "softwood")
