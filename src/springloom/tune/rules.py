"""How careful to be, and how well a hand planes."""

from __future__ import annotations

from dataclasses import dataclass

from springloom.errors import in_range

FINE_PASS = 0.0254 / 128
"""A fine pass of the plane: two make 1/64 in (common practice, no source)."""

SETTING_SHARE, PLANING_SD = 0.15, 0.00005
"""How well what comes off is what was meant (common practice, no source): sd of the plane's
setting as a share of the removal, the same everywhere; and of each face at each station, m."""

STEEPEST = 0.04
"""How steeply one round's removal may run out along a face: 1 mm over a blend of 25 mm, half
of what the default blade's faces taper by at its root (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Rules:
    """How careful to be, how fine the plane is set, and what is left alone.

    Attributes:
        pass_m: what one pass takes off one face.
        target_risk: chance allowed, at each removal, of passing the target by more than its
            tolerance.
        tuning_risk: the same over a whole tuning of both blades, however many removals it takes;
            see :mod:`springloom.tune.rounds`.
        limit_risk: chance allowed, at each removal, of passing any least thickness on a blade.
        most_m: most that is advised off one face in one round.
        keep_m: stations whose crown stays as it is, m from the centre.
    """

    pass_m: float = FINE_PASS
    target_risk: float = 0.05
    limit_risk: float = 0.01
    most_m: float = 0.0015
    keep_m: tuple[float, ...] = ()
    tuning_risk: float = 0.01

    def __post_init__(self) -> None:
        """Refuse what is no plane."""
        in_range(self.pass_m, "pass", 0.00002, 0.001, "m")
        in_range(self.target_risk, "target_risk", 0.0005, 0.5)
        in_range(self.tuning_risk, "tuning_risk", 0.0005, 0.5)
        in_range(self.limit_risk, "limit_risk", 0.0001, 0.5)
        in_range(self.most_m, "most", self.pass_m, 0.01, "m")
        for place in self.keep_m:
            in_range(place, "keep", 0.0, 3.0, "m from centre")
