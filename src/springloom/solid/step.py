"""The paddle as a STEP solid: B-spline faces straight from the control net, in mm.

Each span of the net gives four faces, one a quadrant, joined along the seams and around the
rings between spans. At a tip the section closes to an upright line: the faces left and right of
it share that line as their edge. Where the lower face is flat its spans make one plane. Faces,
edges and vertices refer to the same points, so the shell closes exactly.

One span a face, and u across: Open CASCADE, asked for a volume, takes its number of points from
a surface's degree and spans in v. With several spans a face it was seen to come out several per
cent off where they lie along u, and 4e-4 where along v. This way its integral is exact.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from springloom.shape.paddle import Paddle
from springloom.solid.net import ACROSS, FLAT, QUADRANTS, is_flat, net_of, quadrant_columns
from springloom.solid.part21 import Entities, exchange_text, logical, quoted, refs

Floats = npt.NDArray[np.float64]
Ids = npt.NDArray[np.int64]
Edge = tuple[int, bool]
"""An EDGE_CURVE and whether it is walked from its start."""

_MM = 1e3
_TURNED = (1, 3)  # quadrants whose tip edge is another's, walked back


def step_text(
    paddle: Paddle, name: str = "paddle", timestamp: str = "1970-01-01T00:00:00"
) -> str:
    """Return an AP214 file with one closed solid, both blades and the loom.

    x runs along the paddle from its centre to tip A, y across, z through it; mm.

    Args:
        paddle: what to write.
        name: of the product; any text.
        timestamp: ISO 8601, for the header; fixed unless given, so that like paddles give
            like files.
    """
    entities = Entities()
    shell = _Shell(entities, net_of(paddle)).number()
    solid = entities.add(f"MANIFOLD_SOLID_BREP({quoted(name)},#{shell})")
    _product(entities, solid, name)
    described = "Wooden paddle, closed B-spline solid, mm"
    return exchange_text(entities, described, f"{name}.step", timestamp)


class _Shell:
    """Faces of the whole paddle; edges and vertices are written once, when first asked for."""

    def __init__(self, entities: Entities, net: Sequence[Floats]) -> None:
        """Write all points; ring i lies before span i, the last at tip A."""
        self._entities = entities
        self._flat = [is_flat(span) for span in net]
        self._grids = _grids(entities, net)
        self._rows = [*[grid[0] for grid in self._grids], self._grids[-1][-1]]
        self._columns = [list(range(0, 12, 3)) for _ in self._rows]
        self._columns[0], self._columns[-1] = _tip_columns(net[0][0]), _tip_columns(net[-1][-1])
        self._vertices: dict[tuple[int, int], int] = {}
        self._edges: dict[tuple[str, int, int], int] = {}

    def number(self) -> int:
        """Write all faces and the shell around them; return the shell's number."""
        faces = []
        for span in range(len(self._grids)):
            quadrants = [0, 1] if self._flat[span] else range(QUADRANTS)
            faces += [self._face(self._surface(span, k), [span], [k]) for k in quadrants]
        for flat, run in itertools.groupby(range(len(self._flat)), lambda i: self._flat[i]):
            if flat:
                spans = list(run)
                faces.append(self._face(self._plane(spans[0]), spans, [2, 3]))
        return self._entities.add(f"CLOSED_SHELL('',{refs(faces)})")

    def _face(self, surface: int, spans: Sequence[int], quadrants: Sequence[int]) -> int:
        """One face over some spans and quadrants, its bound counter-clockwise from outside."""
        first, last = quadrants[0], (quadrants[-1] + 1) % QUADRANTS
        walk = [
            *[self._across(spans[0], k) for k in quadrants],
            *[(self._along(span, last), True) for span in spans],
            *[_back(self._across(spans[-1] + 1, k)) for k in quadrants[::-1]],
            *[(self._along(span, first), False) for span in spans[::-1]],
        ]
        add = self._entities.add
        oriented = [
            add(f"ORIENTED_EDGE('',*,*,#{edge[0]},{logical(edge[1])})") for edge in walk if edge
        ]
        loop = add(f"EDGE_LOOP('',{refs(oriented)})")
        bound = add(f"FACE_OUTER_BOUND('',#{loop},.T.)")
        return add(f"ADVANCED_FACE('',(#{bound}),#{surface},.T.)")

    def _across(self, ring: int, quadrant: int) -> Edge | None:
        """The edge of a quadrant on a ring; None where the ring has no height."""
        start, end = (self._vertex(ring, (quadrant + i) % QUADRANTS) for i in (0, 1))
        if start == end:
            return None
        if self._is_tip(ring) and quadrant in _TURNED:
            return _back(self._across(ring, quadrant - 1))
        points = self._rows[ring][quadrant_columns(quadrant)]
        return self._edge(("across", ring, quadrant), points, start, end), True

    def _along(self, span: int, seam: int) -> int:
        """The edge of a span along a seam."""
        start, end = self._vertex(span, seam), self._vertex(span + 1, seam)
        return self._edge(("along", span, seam), self._grids[span][:, 3 * seam], start, end)

    def _edge(self, key: tuple[str, int, int], points: Ids, start: int, end: int) -> int:
        if key not in self._edges:
            degree = len(points) - 1
            curve = self._entities.add(
                f"B_SPLINE_CURVE_WITH_KNOTS('',{degree},{refs(points.tolist())},.UNSPECIFIED.,"
                f".F.,.F.,{_ends(degree)},(0.,1.),.UNSPECIFIED.)"
            )
            self._edges[key] = self._entities.add(f"EDGE_CURVE('',#{start},#{end},#{curve},.T.)")
        return self._edges[key]

    def _vertex(self, ring: int, seam: int) -> int:
        column = self._columns[ring][seam]
        if (ring, column) not in self._vertices:
            number = self._entities.add(f"VERTEX_POINT('',#{self._rows[ring][column]})")
            self._vertices[ring, column] = number
        return self._vertices[ring, column]

    def _is_tip(self, ring: int) -> bool:
        return ring in {0, len(self._rows) - 1}

    def _surface(self, span: int, quadrant: int) -> int:
        grid = self._grids[span][:, quadrant_columns(quadrant)]
        degree = len(grid) - 1
        rows = ",".join([refs(column) for column in grid.T.tolist()])
        return self._entities.add(
            f"B_SPLINE_SURFACE_WITH_KNOTS('',{ACROSS},{degree},({rows}),.UNSPECIFIED.,.F.,.F.,.F.,"
            f"{_ends(ACROSS)},{_ends(degree)},(0.,1.),(0.,1.),.UNSPECIFIED.)"
        )

    def _plane(self, span: int) -> int:
        add = self._entities.add
        out, along = add("DIRECTION('',(0.,0.,-1.))"), add("DIRECTION('',(1.,0.,0.))")
        place = add(f"AXIS2_PLACEMENT_3D('',#{self._rows[span][0]},#{out},#{along})")
        return add(f"PLANE('',#{place})")


def _grids(entities: Entities, net: Sequence[Floats]) -> list[Ids]:
    """Numbers of the points, (degree+1, 12) a span; neighbours share the row between them."""
    grids = [entities.add_points(_MM * net[0])]
    for span in net[1:]:
        grids.append(np.vstack([grids[-1][-1:], entities.add_points(_MM * span[1:])]))
    return grids


def _tip_columns(row: Floats) -> list[int]:
    """Where the seams meet a tip: both edges in one point, a ridge without height there too."""
    top, bottom = (ridge if abs(row[ridge, 2]) > FLAT else 0 for ridge in (3, 9))
    return [0, top, 0, bottom]


def _back(edge: Edge | None) -> Edge | None:
    return edge and (edge[0], not edge[1])


def _ends(degree: int) -> str:
    """Multiplicities of the knots of a single span."""
    return f"({degree + 1},{degree + 1})"


def _product(entities: Entities, solid: int, name: str) -> None:
    """Wrap the solid in the product structure that readers look for."""
    add, label = entities.add, quoted(name)
    application = add("APPLICATION_CONTEXT('core data for automotive mechanical design processes')")
    add("APPLICATION_PROTOCOL_DEFINITION('international standard','automotive_design',2000,"
        f"#{application})")
    context = add(f"PRODUCT_CONTEXT('',#{application},'mechanical')")
    product = add(f"PRODUCT({label},{label},'',(#{context}))")
    add(f"PRODUCT_RELATED_PRODUCT_CATEGORY('part','',(#{product}))")
    formation = add(f"PRODUCT_DEFINITION_FORMATION('','',#{product})")
    design = add(f"PRODUCT_DEFINITION_CONTEXT('part definition',#{application},'design')")
    definition = add(f"PRODUCT_DEFINITION('design','',#{formation},#{design})")
    shape = add(f"PRODUCT_DEFINITION_SHAPE('','',#{definition})")
    axes, world = _world(entities)
    body = add(f"ADVANCED_BREP_SHAPE_REPRESENTATION({label},(#{axes},#{solid}),#{world})")
    add(f"SHAPE_DEFINITION_REPRESENTATION(#{shape},#{body})")


def _world(entities: Entities) -> tuple[int, int]:
    """The axes everything stands in, and its units and accuracy."""
    add = entities.add
    origin = add("CARTESIAN_POINT('',(0.,0.,0.))")
    up, along = add("DIRECTION('',(0.,0.,1.))"), add("DIRECTION('',(1.,0.,0.))")
    axes = add(f"AXIS2_PLACEMENT_3D('',#{origin},#{up},#{along})")
    length = add("(LENGTH_UNIT()NAMED_UNIT(*)SI_UNIT(.MILLI.,.METRE.))")
    angle = add("(NAMED_UNIT(*)PLANE_ANGLE_UNIT()SI_UNIT($,.RADIAN.))")
    solid_angle = add("(NAMED_UNIT(*)SI_UNIT($,.STERADIAN.)SOLID_ANGLE_UNIT())")
    accuracy = add(
        f"UNCERTAINTY_MEASURE_WITH_UNIT(LENGTH_MEASURE(1.E-5),#{length},"
        "'distance_accuracy_value','greatest gap between faces, edges and vertices')"
    )
    context = add(
        "(GEOMETRIC_REPRESENTATION_CONTEXT(3)"
        f"GLOBAL_UNCERTAINTY_ASSIGNED_CONTEXT((#{accuracy}))"
        f"GLOBAL_UNIT_ASSIGNED_CONTEXT((#{length},#{angle},#{solid_angle}))"
        "REPRESENTATION_CONTEXT('','3D'))"
    )
    return axes, context
