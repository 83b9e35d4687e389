"""Words of the cut list, and the sheets of a design."""

from __future__ import annotations

from collections.abc import Sequence

from springloom.drawing.cut_drawing import View
from springloom.drawing.cut_list_sheet import CutJob, CutText, cut_list_sheets
from springloom.drawing.model import Drawing
from springloom.drawing.paper import Page
from springloom.fit.cutlist import BoardCheck, CutList, Option, Piece, cut_list, options
from springloom.fit.packing import SLIGHT, Bought, Placed, totals
from springloom.records.design import Design
from springloom.report.cautions import DEFER, DUST, GLUE
from springloom.report.sheets import wood_name
from springloom.report.words import Words
from springloom.shape.blade import HalfPaddle
from springloom.shape.blank import Shortfall
from springloom.shape.nest import Nest
from springloom.shape.paddle import Paddle
from springloom.units import METRE_PER_FOOT
from springloom.wood.stock import BOARD_FOOT_M3, MARKETS, Market, Stock, board_feet

SQUARE_FOOT_M2 = METRE_PER_FOOT**2
MOST_VIEWS = 3

_MARKET: dict[Market, str] = {
    "north american": "To buy by North American sizes", "metric": "To buy by metric sizes",
}
_RINGS = {"flat": "flat", "quarter": "on edge", "mixed": "any"}


def cut_drawings(design: Design, words: Words, page: Page = "a4") -> tuple[Drawing, ...]:
    """Return the cut list of a design."""
    return cut_list_sheets(cut_job(design, words), page)


def cut_job(design: Design, words: Words) -> CutJob:
    """Return boards, pieces and words of a design's cut list."""
    made = cut_list(design.paddle, design.build,
                    None if design.board_assumed else design.board)
    ways = {market: options(made, design.paddle, market) for market in MARKETS}
    first = ways["north american" if words.system == "in" else "metric"]
    views = _views(made, first[0] if first else None, words)
    return CutJob(design.paddle, design.build, made, views, _section(made, first),
                  _text(design, made, ways, words))


def _section(made: CutList, ways: Sequence[Option]) -> tuple[float, float] | None:
    """Width and thickness of the board a solid blank comes from."""
    if made.is_laminated:
        return None
    if made.check is not None:
        return made.check.board.width_m, made.check.board.thickness_m
    if ways:
        stock = ways[0].boards[0].stock
        return stock.width_m, stock.thickness_m
    return None


def _views(made: CutList, buy: Option | None, words: Words) -> tuple[tuple[View, str], ...]:
    """The maker's own board, and what else has to be bought for one paddle."""
    found: list[tuple[View, str]] = []
    check, owned = made.check, ""
    if check is not None:
        board, owned = check.board, check.board.wood.common_name
        label = (f"Your board of {owned}, {_sizes(words, board.width_m, board.thickness_m)}"
                 f"{_gives(check.placed)}")
        found.append((View(label, board.length_m, board.width_m, check.placed,
                           not made.is_laminated, check.nest, check.shortfalls),
                      _length(words, board.length_m)))
    if buy is not None and (made.is_laminated or check is None):
        woods = _woods_of(made, buy.boards)
        for bought, wood in zip(buy.boards, woods, strict=True):
            if wood == owned:
                continue
            gives = _gives(bought.placed) if made.is_laminated else ""
            view = View(f"{_asked(bought)} of {wood}, {_real(bought.stock, words)}{gives}",
                        bought.length_m, bought.stock.width_m, bought.placed,
                        not made.is_laminated)
            found.append((view, _stock_length(bought)))
    return tuple(found[:MOST_VIEWS])


def _gives(placed: Sequence[Placed]) -> str:
    names = ", ".join(p.item.label for p in placed)
    return f": {names}" if names else ""


def _woods_of(made: CutList, boards: Sequence[Bought]) -> list[str]:
    wood = {item.label: piece.wood for piece in made.pieces for item in piece.items()}
    return [wood[bought.placed[0].item.label] for bought in boards]


def _length(words: Words, metres: float) -> str:
    """A length without decimals that say nothing."""
    return words.length(metres).replace(".0 mm", " mm")


def _sizes(words: Words, *metres: float) -> str:
    """Sizes of one unit with crosses between."""
    each = [_length(words, size) for size in metres]
    return " × ".join([*(size.removesuffix(f" {words.system}") for size in each[:-1]), each[-1]])


def _real(stock: Stock, words: Words) -> str:
    """What a rule shows of a section; metric ones always in mm."""
    shown = Words("mm") if stock.market == "metric" else words
    return _sizes(shown, stock.width_m, stock.thickness_m)


def _text(design: Design, made: CutList, ways: dict[Market, tuple[Option, ...]],
          words: Words) -> CutText:
    blank = made.blank
    size = f"blank {_sizes(words, blank.length_m, blank.width_m, blank.thickness_m)}"
    verdict, findings = _verdict(design, made, words)
    return CutText(
        title=design.name,
        subtitle=f"{_length(words, design.paddle.length)} paddle, {wood_name(design.build)}; "
        f"{size}",
        verdict=verdict,
        findings=findings,
        blank=(_length(words, blank.width_m), _length(words, blank.thickness_m)),
        saw=tuple(_saw_row(piece, words) for piece in made.pieces),
        buy=tuple((_MARKET[market], rows) for market, found in ways.items()
                  if (rows := _buy_rows(made, found, words))),
        notes=_notes(made, words),
        cautions=(DUST, *((GLUE,) if made.is_laminated else ()), DEFER),
    )


def _saw_row(piece: Piece, words: Words) -> tuple[str, ...]:
    numbers = ", ".join(map(str, piece.numbers)) or "1"
    return (numbers, piece.wood, _length(words, piece.length_m), _length(words, piece.width_m),
            _length(words, piece.thickness_m), _RINGS[piece.ring])


def _buy_rows(made: CutList, found: Sequence[Option], words: Words) -> tuple[tuple[str, ...], ...]:
    rows: list[tuple[str, ...]] = []
    for option in found:
        whom = f"{option.paddles} paddle{'s' if option.paddles > 1 else ''}"
        if option.nest is not None:
            whom += ", outlines " + _shift(option.nest, words)
        for boards, wood in _alike(made, option):
            name = _asked(boards[0]) + (f", {wood}" if made.is_laminated else "")
            rows.append((whom, *buy_cells(boards, name, words)))
            whom = ""
    return tuple(rows)


def buy_cells(boards: Sequence[Bought], name: str, words: Words) -> tuple[str, ...]:
    """Cells of like boards: what to ask for, length, real size, board feet, litres."""
    one = boards[0]
    feet, volume = totals(boards)
    return (f"{len(boards)} × {name}" if len(boards) > 1 else name, _stock_length(one),
            _real(one.stock, words), f"{feet:.1f}",
            f"{1e3 * volume:.1f}")


def _alike(made: CutList, option: Option) -> list[tuple[list[Bought], str]]:
    """Boards of one wood, section and length together."""
    found: dict[tuple[str, Stock, float], list[Bought]] = {}
    for bought, wood in zip(option.boards, _woods_of(made, option.boards), strict=True):
        found.setdefault((wood, bought.stock, bought.length_m), []).append(bought)
    return [(boards, key[0]) for key, boards in found.items()]


def _shift(nest: Nest, words: Words) -> str:
    if abs(nest.shift_m) < 1e-9:
        return "side by side"
    return f"shifted by {_length(words, abs(nest.shift_m))}"


def _asked(bought: Bought) -> str:
    stock = bought.stock
    mark = " (from memory)" if stock.from_memory else ""
    return f"{stock.name} {stock.surface}{mark}"


def _stock_length(bought: Bought) -> str:
    """A length as yards say it: feet, or metres."""
    if bought.stock.market == "north american":
        return f"{bought.length_m / METRE_PER_FOOT:.0f} ft"
    return f"{bought.length_m:.1f} m"


def _verdict(design: Design, made: CutList, words: Words) -> tuple[str, tuple[str, ...]]:
    check = made.check
    if check is None:
        other = "The board on file is of another wood than any strip."
        return "", () if design.board is None or design.board_assumed else (other,)
    sentences = [lack_words(design.paddle, lack, words) for lack in check.shortfalls]
    sentences += [f"No room is left in it for {item.label}." for item in check.left]
    if made.is_laminated and check.placed:
        names = ", ".join(p.item.label for p in check.placed)
        sentences.append(f"It gives {names}.")
    board = check.board
    feet = board_feet(board.thickness_m, board.width_m, board.length_m)
    litres = feet * BOARD_FOOT_M3 * 1e3
    sentences.append(f"It holds {feet:.1f} board feet, {litres:.1f} litres.")
    if check.nest is not None:
        sentences.append(_nest(check, check.nest, words))
    if check.fits:
        return "The board will do", tuple(sentences)
    if check.fits_bare:
        return "The board will do only as it is, with nothing to spare", tuple(sentences)
    return "The board won't do", tuple(sentences)


def lack_words(paddle: Paddle, lack: Shortfall, words: Words) -> str:
    """Say what a board lacks for a paddle, and where."""
    half = paddle.b if lack.blade == "B" else paddle.a
    needs, has = _length(words, lack.needed_m), _length(words, lack.has_m)
    bare = " The bare paddle would still come out." if lack.only_allowance else ""
    short = _length(words, lack.short_m)
    if lack.size == "length":
        return f"Too short by {short}: {needs} are needed, ends trimmed, and it has {has}.{bare}"
    what = "narrow" if lack.size == "width" else "thin"
    blade = f" of blade {lack.blade}" if lack.blade else ""
    return (f"Too {what} by {short} {_at(lack.place)}{blade}, where {needs} are needed and it "
            f"has {has}; so from {_place(half, lack.from_m, words)} to "
            f"{_place(half, lack.to_m, words)}.{bare}")


def _place(half: HalfPaddle, x_m: float, words: Words) -> str:
    """A named place if one is near, else the distance from the centre."""
    if x_m < 1e-3:
        return "the centre"
    if half.tip - x_m < 1e-3:
        return "the tip"
    if abs(x_m - half.loom.root) < 4e-3:
        return "the root"
    return f"{_length(words, x_m)} from the centre"


def _at(place: str) -> str:
    """A place in a sentence: the loom, the 1/4 station, 75 mm from tip."""
    if "from" in place:
        return f"at {place}"
    return f"at the {place} station" if "/" in place else f"at the {place}"


def _nest(check: BoardCheck, nest: Nest, words: Words) -> str:
    if not nest.fits:
        board = check.board
        narrow = nest.width_m - board.width_m
        if narrow <= 0.0:
            return (f"A second paddle does not come out of it: {_length(words, nest.length_m)} of "
                    "length are needed for two.")
        return (f"A second paddle does not come out of it: two outlines shifted past each other "
                f"need {_length(words, nest.width_m)} of width.")
    if nest.kind == "shifted":
        return (f"Two paddles come out of it with their outlines {_shift(nest, words)}, middle "
                f"lines {_length(words, nest.apart_m)} apart; saw round the outlines, since the "
                "blanks can't stay square.")
    return f"Two squared blanks come out of it, {nest.kind}."


def _notes(made: CutList, words: Words) -> tuple[str, ...]:
    allow = made.allow
    kerf, planed, sawn, edge, end = (_length(words, size) for size in (
        allow.kerf_m, allow.planing_m, allow.sawn_m, allow.edge_m, allow.end_m))
    notes = [
        f"Allowed: saw cut {kerf}, each face {planed} off a planed board of your own and {sawn} "
        f"off a sawn one, {edge} outside the outline, {end} off each end. A planed board from "
        f"the yard is taken as flat and straight, {_length(words, SLIGHT)} of thickness forgiven: "
        "look along it.",
    ]
    if made.is_laminated:
        feet = made.glue_area_m2 / SQUARE_FOOT_M2
        notes.append(f"Glued joints: {made.glue_area_m2:.3f} m² ({feet:.2f} square feet), about "
                     f"{1e3 * made.glue_kg:.0f} g of glue at 250 g/m² (common practice, no "
                     "source).")
        notes.append("Grain runs along every strip. Turn every second strip end for end, so that "
                     "what runs out of the face goes opposite ways, and mix the cups of the rings.")
    else:
        notes.append("Grain runs along the blank; lay the outline where it runs out least, and "
                     "keep knots and checks outside it.")
    return tuple(notes)


