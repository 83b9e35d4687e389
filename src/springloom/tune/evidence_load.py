"""Readings of how a paddle bends, sounds and weighs."""

from __future__ import annotations

import math
from dataclasses import dataclass

from springloom.errors import RangeError, in_range, known
from springloom.mechanics.setups import (
    HANDS_HALF_SPAN,
    HANDS_LOAD,
    HANDS_LOAD_AT,
    STANDARD_LOAD,
)
from springloom.tune.instruments import (
    DEFAULT_BENCH,
    DEFAULT_RECORDER,
    DEFAULT_SCALE,
    INSTRUMENTS,
    RECORDERS,
    SCALES,
    SIDES,
    Read,
    Shared,
    Side,
    blade_name,
    place_name,
)

LOAD_SD_SHARE = 0.01
"""How well a marked weight is what it says (common practice, no source)."""

TAP_METHOD_SD_LN = 0.015
"""What a tap tone gets wrong as a method, in ln f: half of :mod:`springloom.wood.assess`'s 3 % in
E over density. All tones of a paddle share it."""

BALANCE_SD = 0.003
"""Standard deviation of a balance point, m: finding it, and wood that is denser at one end by 1 %
(common practice, no source)."""

PADDLE_SHARE = 0.01
"""Standard deviation, as a share of the paddle's weight, of what no unknown carries: a loom off
its plan by 0.3 mm, finish, damp in the wood (common practice, no source)."""


class _SunkRead(Read):
    """What readings under a hung weight have in common."""

    __slots__ = ()
    deflection: float
    load: float
    load_sd_share: float

    @property
    def value(self) -> float:
        """What was read, m."""
        return self.deflection

    @property
    def shared(self) -> Shared:
        """The weight's own error."""
        return ((("load", self.load), self.load_sd_share * self.deflection),)


@dataclass(frozen=True, slots=True)
class BenchReading(_SunkRead):
    """How far one blade sank at a place under a hung weight, against the unloaded line.

    Attributes:
        side: the clamped blade.
        deflection: how far it sank, m.
        read_x: where it was read, m from the centre.
        load_x: where the weight hung.
        load: N.
        clamp_x: outer edge of the clamp.
        sd: of the deflection, m; see :func:`repeated` where it was read more than once.
        load_sd_share: of the load, as a share (a marked weight is good to 1 %); readings under
            the same load share this error.
        scatter: sd among repeats, m; told, already in ``sd``.
        hysteresis: read while unloading less read while loading, m; likewise.
    """

    side: Side
    deflection: float
    read_x: float
    load_x: float
    clamp_x: float
    load: float = STANDARD_LOAD
    sd: float = INSTRUMENTS[DEFAULT_BENCH]
    load_sd_share: float = LOAD_SD_SHARE
    name: str = ""
    scatter: float = 0.0
    hysteresis: float = 0.0

    def __post_init__(self) -> None:
        """Refuse what no bench shows; a blade does not rise under a weight."""
        known(self.side, SIDES, "blade")
        _check_sunk(self.deflection)
        in_range(self.load, "load", 0.5, 300.0, "N")
        in_range(self.clamp_x, "clamp", 0.0, 2.0, "m from centre")
        in_range(self.load_x, "hung_at", self.clamp_x + 0.05, 3.0, "m from centre")
        in_range(self.read_x, "read_at", self.clamp_x + 0.01, 3.0, "m from centre")
        in_range(self.sd, "sd", 0.0, 0.05, "m", open_low=True)
        in_range(self.load_sd_share, "load_sd_share", 0.0, 0.2)

    @property
    def total_sd(self) -> float:
        """Reading and load uncertainty together, m."""
        return math.hypot(self.sd, self.load_sd_share * self.deflection)

    @property
    def label(self) -> str:
        """What the maker calls this reading."""
        return f"{blade_name(self.side)}, bench reading at {place_name(self.read_x, self.name)}"


@dataclass(frozen=True, slots=True)
class HandsReading(_SunkRead):
    """How far one blade sank, the paddle on two supports about its centre; m and N.

    ``half_span`` is from the centre to either support; the rest as in :class:`BenchReading`.
    """

    side: Side
    deflection: float
    read_x: float = HANDS_LOAD_AT
    load_x: float = HANDS_LOAD_AT
    half_span: float = HANDS_HALF_SPAN
    load: float = HANDS_LOAD
    sd: float = INSTRUMENTS[DEFAULT_BENCH]
    load_sd_share: float = LOAD_SD_SHARE
    name: str = ""
    scatter: float = 0.0
    hysteresis: float = 0.0

    def __post_init__(self) -> None:
        """Refuse what two hands can't hold."""
        known(self.side, SIDES, "blade")
        _check_sunk(self.deflection)
        in_range(self.load, "load", 0.5, 300.0, "N")
        in_range(self.half_span, "half_span", 0.05, 1.0, "m from centre")
        in_range(self.load_x, "hung_at", self.half_span + 0.02, 3.0, "m from centre")
        in_range(self.read_x, "read_at", self.half_span + 0.01, 3.0, "m from centre")
        in_range(self.sd, "sd", 0.0, 0.05, "m", open_low=True)
        in_range(self.load_sd_share, "load_sd_share", 0.0, 0.2)

    @property
    def label(self) -> str:
        """What the maker calls this reading."""
        return f"{blade_name(self.side)}, two-hands reading at {place_name(self.read_x, self.name)}"


@dataclass(frozen=True, slots=True)
class TapReading(Read):
    """First flatwise tone, Hz: of a clamped blade, or with ``side`` None of the paddle hung free.

    ``clamp_x`` is the clamp's outer edge, m from the centre.
    """

    side: Side | None
    frequency: float
    clamp_x: float = 0.0
    sd: float = RECORDERS[DEFAULT_RECORDER]

    def __post_init__(self) -> None:
        """Refuse what no paddle sounds."""
        if self.side is not None:
            known(self.side, SIDES, "blade")
        in_range(self.frequency, "frequency", 1.0, 500.0, "Hz")
        in_range(self.clamp_x, "clamp", 0.0, 2.0, "m from centre")
        in_range(self.sd, "sd", 0.0, 50.0, "Hz", open_low=True)

    @property
    def value(self) -> float:
        """What was heard, Hz."""
        return self.frequency

    @property
    def shared(self) -> Shared:
        """The method's own error."""
        return ((("tap", 0.0), TAP_METHOD_SD_LN * self.frequency),)

    @property
    def label(self) -> str:
        """What the maker calls this reading."""
        return "tap of the paddle" if self.side is None else f"{blade_name(self.side)}, tap"


@dataclass(frozen=True, slots=True)
class WeightReading(Read):
    """The whole paddle on a scale, kg."""

    mass: float
    sd: float = SCALES[DEFAULT_SCALE]

    def __post_init__(self) -> None:
        """Refuse what is no paddle."""
        in_range(self.mass, "weight", 0.1, 5.0, "kg")
        in_range(self.sd, "sd", 0.0, 0.5, "kg", open_low=True)

    @property
    def value(self) -> float:
        """What was read, kg."""
        return self.mass

    @property
    def total_sd(self) -> float:
        """Scale and :data:`PADDLE_SHARE` together, kg."""
        return math.hypot(self.sd, PADDLE_SHARE * self.mass)

    @property
    def own_sd(self) -> float:
        """As :attr:`total_sd`."""
        return self.total_sd

    @property
    def label(self) -> str:
        """What the maker calls this reading."""
        return "paddle weight"


@dataclass(frozen=True, slots=True)
class BalanceReading(Read):
    """Where the paddle balances, m from its centre towards blade A."""

    offset: float
    sd: float = BALANCE_SD

    def __post_init__(self) -> None:
        """Refuse what is no paddle's."""
        in_range(self.offset, "balance", -0.5, 0.5, "m")
        in_range(self.sd, "sd", 0.0, 0.1, "m", open_low=True)

    @property
    def value(self) -> float:
        """What was found, m."""
        return self.offset

    @property
    def label(self) -> str:
        """What the maker calls this reading."""
        return "balance point"


def _check_sunk(deflection: float) -> None:
    """Refuse what does not sink, and ask about the sign."""
    if isinstance(deflection, float) and -0.5 <= deflection < 0.0:
        raise RangeError("a blade sinks under its weight: is the sign wrong?", field="deflection",
                         given=f"{deflection:.6g} m", allowed="more than 0 and at most 0.5 m")
    in_range(deflection, "deflection", 0.0, 0.5, "m", open_low=True)
