"""How careful to be, and how well a hand planes."""

from __future__ import annotations

from dataclasses import dataclass

from springloom.errors import in_range

FINE_PASS = 0.0254 / 128
"""A fine pass of the plane: two make 1/64 in (common practice, no source)."""

SETTING_SHARE, PLANING_SD = 0.15, 0.00005
"""How well what comes off is what was meant (common practice, no source): sd of the plane's
setting as a share of the removal, the same everywhere; and of each face at each station, m."""


@dataclass(frozen=True, slots=True)
class Rules:
    """How careful to be, and how fine the plane is set.

    Attributes:
        pass_m: what one pass takes off one face.
        target_risk: chance allowed, at each removal, of passing the target by more than its
            tolerance.
        limit_risk: the same of passing any least thickness on a blade.
        most_m: most that is advised off one face in one round.
    """

    pass_m: float = FINE_PASS
    target_risk: float = 0.05
    limit_risk: float = 0.01
    most_m: float = 0.0015

    def __post_init__(self) -> None:
        """Refuse what is no plane."""
        in_range(self.pass_m, "pass", 0.00002, 0.001, "m")
        in_range(self.target_risk, "target_risk", 0.0005, 0.5)
        in_range(self.limit_risk, "limit_risk", 0.0001, 0.5)
        in_range(self.most_m, "most", self.pass_m, 0.01, "m")
