"""What a maker knows of one board: its wood, its size, and what was read on it.

Each reading carries the standard deviation it was read with. The defaults are what common shop
tools reach (common practice, no source). What was not read is None, and
:mod:`springloom.wood.assess` says what it takes instead.
"""

from __future__ import annotations

from dataclasses import dataclass

from springloom.errors import InputError, SpringloomError, in_range, known
from springloom.wood.elastic import RINGS, Ring
from springloom.wood.moisture import GREEN_LIMIT_PERCENT
from springloom.wood.species import Origin, Species, species

UNREAD_MOISTURE = (12.0, 3.0)
"""Mean and standard deviation, percent, of an indoor board nobody metered: no source."""

METER_SD_PERCENT = 1.5
"""Standard deviation of a pin meter's reading, percent moisture: common practice, no source."""

UNREAD_GRAIN = (0.03, 0.02)
"""Mean and standard deviation of the slope of straight-looking grain nobody read: no source."""

GRAIN_SD = 0.01
"""Standard deviation of a slope of grain read off two faces: common practice, no source."""

SHORTEST_SPAN = 10.0
"""Least span over depth of a bending test; below it shear rules the reading."""


@dataclass(frozen=True, slots=True)
class CentralLoadTest:
    """A board on two supports, bent by a load half-way between them.

    ``deflection_m`` is the difference the load makes, so the board's own weight drops out.
    ``edgewise`` is True if the board stood on its edge. Readings far outside what leaves the
    board unharmed are refused.

    Raises:
        RangeError: a reading out of range.
    """

    span_m: float
    load_n: float
    deflection_m: float
    deflection_sd_m: float = 0.1e-3
    load_sd_n: float = 0.5
    span_sd_m: float = 1.0e-3
    edgewise: bool = False

    def __post_init__(self) -> None:
        """Check every reading."""
        in_range(self.span_m, "span_m", 0.1, 6.0, "m")
        in_range(self.load_n, "load_n", 0.1, 5000.0, "N")
        in_range(self.deflection_m, "deflection_m", 0.0, 0.05 * self.span_m, "m", open_low=True)
        in_range(self.deflection_sd_m, "deflection_sd_m", 0.0, 0.01, "m", open_low=True)
        in_range(self.load_sd_n, "load_sd_n", 0.0, 100.0, "N")
        in_range(self.span_sd_m, "span_sd_m", 0.0, 0.05, "m")


@dataclass(frozen=True, slots=True)
class TapTone:
    """The first bending tone of the board held loosely at its nodes, 0.224 of its length in.

    ``edgewise`` is True if it was tapped on its edge.

    Raises:
        RangeError: a reading out of range.
    """

    frequency_hz: float
    sd_hz: float = 0.5
    edgewise: bool = False

    def __post_init__(self) -> None:
        """Check both numbers."""
        in_range(self.frequency_hz, "frequency_hz", 1.0, 20000.0, "Hz")
        in_range(self.sd_hz, "sd_hz", 0.0, 0.2 * self.frequency_hz, "Hz", open_low=True)


@dataclass(frozen=True, slots=True)
class Board:
    """One board, as measured. ``thickness_m`` is the smaller size of its section.

    ``grain_slope`` is rise over run (1 in 15 is 1/15). ``ring`` is the lie of the growth rings
    on the wide face, see :mod:`springloom.wood.elastic`. Any number of bending tests and tap
    tones may be given.

    Raises:
        UnknownNameError: no such species, origin or ring orientation.
        RangeError: a number out of range.
        InputError: readings that do not fit the board's size.
    """

    species: str
    length_m: float
    width_m: float
    thickness_m: float
    origin: Origin = "us"
    mass_kg: float | None = None
    moisture_percent: float | None = None
    moisture_sd_percent: float = METER_SD_PERCENT
    grain_slope: float | None = None
    grain_slope_sd: float = GRAIN_SD
    ring: Ring = "mixed"
    bending_tests: tuple[CentralLoadTest, ...] = ()
    tap_tones: tuple[TapTone, ...] = ()
    length_sd_m: float = 1.0e-3
    width_sd_m: float = 0.3e-3
    thickness_sd_m: float = 0.2e-3
    mass_sd_kg: float = 0.005
    note: str = ""

    def __post_init__(self) -> None:
        """Check every number, then that the readings fit the board."""
        _ = self.wood
        known(self.ring, RINGS, "ring")
        self._check_size()
        self._check_condition()
        for i, test in enumerate(self.bending_tests):
            self._check_test(test, f"bending_tests[{i}]")
        for i, tap in enumerate(self.tap_tones):
            self._check_depth(tap.edgewise, self.length_m, f"tap_tones[{i}]", "length")

    @property
    def wood(self) -> Species:
        """The species row this board belongs to."""
        return species(self.species, self.origin)

    @property
    def moisture(self) -> tuple[float, float]:
        """Mean and standard deviation of the moisture, percent, as read or as taken for unread."""
        if self.moisture_percent is None:
            return UNREAD_MOISTURE
        return self.moisture_percent, self.moisture_sd_percent

    @property
    def grain(self) -> tuple[float, float]:
        """Mean and standard deviation of the grain slope, as read or as taken for unread."""
        if self.grain_slope is None:
            return UNREAD_GRAIN
        return self.grain_slope, self.grain_slope_sd

    def section(self, *, edgewise: bool) -> tuple[float, float]:
        """Return width and depth, m, of the section as it bends."""
        if edgewise:
            return self.thickness_m, self.width_m
        return self.width_m, self.thickness_m

    def _check_size(self) -> None:
        in_range(self.length_m, "length_m", 0.15, 6.0, "m")
        in_range(self.width_m, "width_m", 0.005, 0.6, "m")
        in_range(self.thickness_m, "thickness_m", 0.003, 0.2, "m")
        if self.thickness_m > self.width_m:
            raise InputError("is more than the width; the thickness is the smaller size",
                             field="thickness_m", given=f"{self.thickness_m:g} m",
                             allowed=f"at most {self.width_m:g} m")
        for size in ("length", "width", "thickness"):
            limit = 0.2 * float(getattr(self, f"{size}_m"))
            in_range(getattr(self, f"{size}_sd_m"), f"{size}_sd_m", 0.0, limit, "m")

    def _check_condition(self) -> None:
        if self.mass_kg is not None:
            in_range(self.mass_kg, "mass_kg", 0.005, 200.0, "kg")
            in_range(self.mass_sd_kg, "mass_sd_kg", 0.0, 0.2 * self.mass_kg, "kg")
        if self.moisture_percent is not None:
            in_range(self.moisture_percent, "moisture_percent", 0.0, GREEN_LIMIT_PERCENT, "%")
        in_range(self.moisture_sd_percent, "moisture_sd_percent", 0.0, 20.0, "%")
        if self.grain_slope is not None:
            in_range(self.grain_slope, "grain_slope", 0.0, 1.0, "rise/run")
        in_range(self.grain_slope_sd, "grain_slope_sd", 0.0, 0.1, "rise/run")

    def _check_test(self, test: CentralLoadTest, field: str) -> None:
        if test.span_m > self.length_m:
            raise InputError("is more than the board's length", field=f"{field}.span_m",
                             given=f"{test.span_m:g} m", allowed=f"at most {self.length_m:g} m")
        self._check_depth(test.edgewise, test.span_m, field, "span")

    def _check_depth(self, edgewise: bool, length_m: float, field: str, what: str) -> None:
        depth = self.section(edgewise=edgewise)[1]
        if length_m < SHORTEST_SPAN * depth:
            error: SpringloomError = InputError(
                f"needs a {what} of at least {SHORTEST_SPAN:g} times the depth it bends in",
                given=f"{length_m / depth:.1f} times", allowed=f"at least {SHORTEST_SPAN:g} times",
            )
            raise error.within(field)
