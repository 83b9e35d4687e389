"""Meshes are closed, face outward, and stay within their chord tolerance of the surface."""

from __future__ import annotations

import itertools

import numpy as np
import numpy.typing as npt
import pytest

from springloom.errors import RangeError
from springloom.shape.paddle import Paddle
from springloom.solid.mesh import COARSEST, FINEST, Mesh, mesh_of
from springloom.solid.net import ACROSS, QUADRANTS, bernstein_basis, net_of, quadrant_columns
from tests.solid_paddles import DEFAULT, PADDLES, box, closed_form

Floats = npt.NDArray[np.float64]
ALL = pytest.mark.parametrize("paddle", PADDLES.values(), ids=PADDLES.keys())
CHORD = 2e-4


def on_patch(patch: Floats, u: Floats, v: Floats) -> Floats:
    """Points of a patch (degree+1, 4, 3) at pairs (u, v): (n, 3)."""
    across, along = bernstein_basis(ACROSS, u), bernstein_basis(len(patch) - 1, v)
    places: Floats = np.einsum("nu,nv,vux->nx", across, along, patch)
    return places


def distances(points: Floats, paddle: Paddle) -> Floats:
    """Distance of each point from the surface on its own side of y = 0, m.

    From the nearest place of its own section down to the foot; a descent that stops early
    gives too much, never too little.
    """
    net = net_of(paddle)
    starts = [span[0, 0, 0] for span in net[1:]]
    owner = np.searchsorted(starts, points[:, 0], side="right")
    out = np.full(len(points), np.inf)
    for index, quadrant in itertools.product(range(len(net)), range(QUADRANTS)):
        right = quadrant in {0, 3}
        mine = (owner == index) & ((points[:, 1] >= 0.0) == right)
        patch = net[index][:, quadrant_columns(quadrant)]
        out[mine] = np.minimum(out[mine], _feet(points[mine], patch, *_start(points[mine], patch)))
    return out


def _start(points: Floats, patch: Floats, tries: int = 41) -> tuple[Floats, Floats]:
    """Parameters of the nearest place at each point's own x."""
    fine, steps = np.linspace(0.0, 1.0, 2001), np.linspace(0.0, 1.0, tries)
    v = np.interp(points[:, 0], on_patch(patch, 0.0 * fine, fine)[:, 0], fine)
    places = np.array([on_patch(patch, np.full(len(v), u), v) for u in steps])
    best = np.linalg.norm(places - points, axis=-1).argmin(axis=0)
    return np.asarray(steps[best]), np.asarray(v)


def _feet(points: Floats, patch: Floats, u: Floats, v: Floats) -> Floats:
    """Distances after damped Gauss–Newton steps towards the foot within one patch."""
    step = 1e-6
    best: Floats = np.linalg.norm(on_patch(patch, u, v) - points, axis=1)
    for _ in range(12):
        here = on_patch(patch, u, v)
        du = (on_patch(patch, u + step, v) - here) / step
        dv = (on_patch(patch, u, v + step) - here) / step
        slopes = np.stack([du, dv], axis=2)
        normal = np.einsum("nxi,nxj->nij", slopes, slopes) + 1e-12 * np.eye(2)
        change = np.linalg.solve(normal, np.einsum("nxi,nx->ni", slopes, points - here)[..., None])
        u, v = (np.clip(at + change[:, i, 0], 0.0, 1.0) for i, at in enumerate((u, v)))
        best = np.minimum(best, np.linalg.norm(on_patch(patch, u, v) - points, axis=1))
    return best


def edge_counts(mesh: Mesh) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.int64]]:
    """How often each directed edge and each edge either way is used."""
    directed = np.concatenate([mesh.triangles[:, [i, (i + 1) % 3]] for i in range(3)])
    _, one_way = np.unique(directed, axis=0, return_counts=True)
    _, both = np.unique(np.sort(directed, axis=1), axis=0, return_counts=True)
    return one_way, both


@ALL
@pytest.mark.parametrize("chord", [1e-3, CHORD, 5e-5])
def test_every_edge_has_a_triangle_on_either_side(paddle: Paddle, chord: float) -> None:
    mesh = mesh_of(paddle, chord)
    one_way, both = edge_counts(mesh)
    assert set(one_way.tolist()) == {1}
    assert set(both.tolist()) == {2}
    assert len(mesh.vertices) - len(both) + len(mesh.triangles) == 2  # Euler: one sphere
    assert set(np.unique(mesh.triangles).tolist()) == set(range(len(mesh.vertices)))


@ALL
def test_no_triangle_is_without_area(paddle: Paddle) -> None:
    areas = np.linalg.norm(mesh_of(paddle, CHORD).area_vectors, axis=1)
    assert areas.min() > 1e-12  # m²; a millionth of a square millimetre


@ALL
def test_triangles_face_outward(paddle: Paddle) -> None:
    mesh = mesh_of(paddle, CHORD)
    middle = mesh.corners.mean(axis=1)
    # Every section is convex and holds its own centre, so a normal points away from it, but
    # next to the tips, where the outline turns, and where a facet spans a hollow of the blade.
    half = np.where(middle[:, 0] >= 0.0, paddle.a.tip, paddle.b.tip)
    inner = np.abs(middle[:, 0]) < half - 0.02
    _, crown, *_, share = channels(paddle, middle[:, 0])
    outward = middle - np.stack([middle[:, 0], 0 * share, crown * (share - 0.5)], axis=-1)
    along = np.einsum("nx,nx->n", outward, mesh.area_vectors)
    assert (along[inner] > 0.0).all()
    assert mesh.volume_m3 > 0.0


def channels(paddle: Paddle, x: Floats) -> Floats:
    """Channel values at places along the whole paddle, m from the centre."""
    a = paddle.a.values(paddle.a.parameter(np.abs(x)))
    b = paddle.b.values(paddle.b.parameter(np.abs(x)))
    return np.asarray(np.where(x >= 0.0, a, b))


@ALL
@pytest.mark.parametrize("chord", [1e-3, CHORD, 5e-5])
def test_volume_is_the_closed_form_within_the_chord(paddle: Paddle, chord: float) -> None:
    mesh = mesh_of(paddle, chord)
    # Moving a surface of this area by no more than the chord sweeps no more than their product.
    assert abs(mesh.volume_m3 - closed_form(paddle).volume_m3) < chord * mesh.area_m2


def test_volume_error_falls_with_the_chord() -> None:
    exact = closed_form(DEFAULT).volume_m3
    errors = [abs(mesh_of(DEFAULT, chord).volume_m3 / exact - 1.0) for chord in (4e-4, 1e-4)]
    # Both go with the square of the steps, so four times the chord is four times the error;
    # steps are whole numbers, hence a third to spare.
    assert errors[0] / errors[1] == pytest.approx(4.0, rel=0.33)


def test_at_a_tenth_of_a_millimetre_the_default_volume_is_good_to_a_thousandth() -> None:
    assert mesh_of(DEFAULT).volume_m3 == pytest.approx(closed_form(DEFAULT).volume_m3, rel=1e-3)


@ALL
@pytest.mark.parametrize("chord", [1e-3, CHORD])
def test_triangles_stay_within_the_chord_of_the_surface(paddle: Paddle, chord: float) -> None:
    corners = mesh_of(paddle, chord).corners
    # A flat triangle is furthest from a smooth surface at its middle or halfway along a side.
    probes = np.concatenate([corners.mean(axis=1), *(
        0.5 * (corners[:, i] + corners[:, (i + 1) % 3]) for i in range(3)
    )])
    some = np.random.default_rng(20261).choice(probes, 2500, replace=False, axis=0)
    found = distances(some, paddle)
    assert found.max() < chord
    assert found.max() > 0.1 * chord  # else the mesh would be far finer than was asked for


@ALL
def test_vertices_lie_on_the_surface(paddle: Paddle) -> None:
    # Both are sums of products under 2 m, rounded in the sixteenth digit.
    assert distances(mesh_of(paddle, 1e-3).vertices, paddle).max() < 1e-13


@ALL
def test_the_box_is_the_closed_form(paddle: Paddle) -> None:
    found = mesh_of(paddle, CHORD).vertices
    expected = box(paddle)
    # Vertices lie on the surface and so inside its box, which they miss by a chord at most.
    assert np.array([found.min(axis=0), found.max(axis=0)]) == pytest.approx(expected, abs=CHORD)
    assert found[:, 0].min() == pytest.approx(-paddle.b.tip, abs=1e-12)
    assert found[:, 0].max() == pytest.approx(paddle.a.tip, abs=1e-12)


def test_a_mirrored_paddle_has_a_mirrored_mesh() -> None:
    mesh = mesh_of(DEFAULT)
    triangles = {tuple(sorted(map(tuple, t))) for t in mesh.corners.round(9).tolist()}
    for axis in (1, 2):
        flipped = mesh.corners.round(9)
        flipped[..., axis] = 0.0 - flipped[..., axis]
        assert {tuple(sorted(map(tuple, t))) for t in (flipped + 0.0).tolist()} == triangles


def test_a_finer_chord_needs_more_triangles() -> None:
    counts = [len(mesh_of(DEFAULT, chord).triangles) for chord in (COARSEST, 1e-3, 1e-4, 2e-5)]
    assert counts == sorted(counts)
    assert counts[-1] < 110_000  # what a browser still turns with ease, from common practice


@pytest.mark.parametrize("chord", [0.0, -1e-4, FINEST / 2, COARSEST * 2, float("nan")])
def test_a_chord_without_sense_is_refused(chord: float) -> None:
    with pytest.raises(RangeError) as caught:
        mesh_of(DEFAULT, chord)
    assert caught.value.field == "chord_m"
    assert caught.value.allowed == f"{FINEST:g} to {COARSEST:g} m"
