"""What tone a tapped blade or paddle should have: beam elements, and energies for the gradient."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from springloom.mechanics.axis import Axis
from springloom.mechanics.modes import Mode, first_mode
from springloom.mechanics.stiffness import Rigidity
from springloom.tune.instruments import SIDES, Side
from springloom.tune.line import Change, Line
from springloom.tune.unknowns import Unknowns

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class _Part:
    """One blade of what sounds: its line, its sections now, its axis and rigidities now."""

    side: Side
    line: Line
    change: Change
    axis: Axis
    rigid: Rigidity

    @classmethod
    def of(cls, unknowns: Unknowns, side: Side, line: Line) -> _Part:
        blade = unknowns.blade(side)
        change = line.change(line.shape(blade))
        axis, planned = line.whole
        shape = axis.x.shape
        stiffer, denser = unknowns.stiffer(side), unknowns.denser()
        inertia, area = change.inertia.reshape(shape), change.area.reshape(shape)
        flat = {name: getattr(planned, name).reshape(shape) for name in Rigidity.__slots__}
        rigid = replace(
            Rigidity(**flat), ei=flat["ei"] / inertia * stiffer,
            shear=flat["shear"] / area * stiffer, mass=flat["mass"] / area * denser,
            rotary=flat["rotary"] / inertia * denser,
        )
        return cls(side, line, change, _stretched(axis, line, blade.longer), rigid)

    def mirrored(self) -> tuple[Axis, Rigidity]:
        """The same from the tip inward, on the other side of the centre."""
        def turn(a: Floats) -> Floats:
            return a[..., ::-1, ::-1]

        axis = Axis(-turn(self.axis.x), turn(self.axis.weight), turn(self.axis.slope),
                    -self.axis.ends[::-1], turn(self.axis.values))
        return axis, Rigidity(*(turn(getattr(self.rigid, n)) for n in Rigidity.__slots__))

    def slopes(self, unknowns: Unknowns, gradient: Floats, mode: Mode) -> None:
        """Add d(ln ω²), (1, unknowns), of this blade's share in a mode."""
        at, line, side = unknowns.layout, self.line, self.side
        bend, slip, moved, turned = (
            part.ravel() for part in (mode.bending, mode.shear, mode.moving, mode.turning))
        by = (bend - turned) * self.change.ln_i + (slip - moved) * self.change.ln_a
        line.chain(gradient, unknowns.blade(side), by[:, None])
        gradient[0, at.ln_e(side)] += np.sum(bend + slip)
        gradient[0, at.ln_density] -= np.sum(moved + turned)
        beyond = line.outward.reshape(mode.moving.shape)[:, 0] > 0.0
        stretch = 1.0 + unknowns.blade(side).longer / line.bench.length
        gradient[0, at.longer(side)] += (
            np.sum(mode.lengthening[beyond]) / (stretch * line.bench.length)
        )


def _stretched(axis: Axis, line: Line, longer: float) -> Axis:
    """The axis of a blade that is longer than planned."""
    share, root = longer / line.bench.length, line.bench.half.loom.root
    out = np.maximum(axis.ends - root, 0.0)
    grown = np.where(axis.x > root, 1.0 + share, 1.0)
    return Axis(axis.x + share * line.outward.reshape(axis.x.shape), axis.weight * grown,
                axis.slope * grown, axis.ends + share * out, axis.values)


@dataclass(frozen=True)
class ClampedTone:
    """Tone of one blade in a clamp; its line runs from the clamp to the tip."""

    side: Side
    line: Line
    readings: int = 1

    def __call__(self, unknowns: Unknowns) -> tuple[Floats, Floats]:
        """Frequencies in Hz (k,), all alike, and gradients (k, unknowns)."""
        part = _Part.of(unknowns, self.side, self.line)
        mode = first_mode(part.axis, part.rigid, clamped=True,
                          turning=unknowns.turning(self.side))
        gradient = unknowns.blank(1)
        part.slopes(unknowns, gradient, mode)
        gradient[0, unknowns.layout.clamp(self.side)] = mode.clamp
        return _repeated(mode.frequency_hz, gradient, self.readings)


@dataclass(frozen=True)
class FreeTone:
    """Tone of the whole paddle hung free; both lines run from the centre to the tips."""

    lines: tuple[Line, Line]
    readings: int = 1

    def __call__(self, unknowns: Unknowns) -> tuple[Floats, Floats]:
        """Frequencies in Hz (k,), all alike, and gradients (k, unknowns)."""
        a, b = (_Part.of(unknowns, side, line)
                for side, line in zip(SIDES, self.lines, strict=True))
        mode = first_mode(*_joined(b.mirrored(), (a.axis, a.rigid)), clamped=False)
        gradient, spans = unknowns.blank(1), len(b.axis.x)
        a.slopes(unknowns, gradient, _of_spans(mode, slice(spans, None), turned=False))
        b.slopes(unknowns, gradient, _of_spans(mode, slice(0, spans), turned=True))
        return _repeated(mode.frequency_hz, gradient, self.readings)


def _repeated(frequency: float, slopes: Floats, readings: int) -> tuple[Floats, Floats]:
    """Frequencies and gradients from d(ln ω²)."""
    return np.full(readings, frequency), np.repeat(0.5 * frequency * slopes, readings, axis=0)


def _joined(left: tuple[Axis, Rigidity], right: tuple[Axis, Rigidity]) -> tuple[Axis, Rigidity]:
    def both(one: object, other: object, names: Sequence[str]) -> list[Floats]:
        return [np.concatenate([getattr(one, n), getattr(other, n)]) for n in names]

    (la, lr), (ra, rr) = left, right
    x, weight, slope = both(la, ra, ("x", "weight", "slope"))
    axis = Axis(x, weight, slope, np.concatenate([la.ends, ra.ends[1:]]),
                np.concatenate([la.values, ra.values], axis=1))
    return axis, Rigidity(*both(lr, rr, Rigidity.__slots__))


def _of_spans(mode: Mode, spans: slice, *, turned: bool) -> Mode:
    """The shares of some spans; turned, from their far end."""
    def part(a: Floats) -> Floats:
        return a[spans][::-1, ::-1] if turned else a[spans]

    longer = mode.lengthening[spans]
    return replace(mode, bending=part(mode.bending), shear=part(mode.shear),
                   moving=part(mode.moving), turning=part(mode.turning),
                   lengthening=longer[::-1] if turned else longer)
