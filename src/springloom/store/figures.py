"""What lists show of a paddle: a few numbers, as planned or as measured, and how far it is."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class Figures:
    """What is known of a paddle; None where nothing is.

    Attributes:
        measured: whether it comes from readings and not from the plan alone.
        length_m: tip to tip, as planned.
        wood: its name.
        e_pa: stiffness along the grain, of both blades' wood together.
        mass_kg: of the bare wood.
        tip_a_m, tip_b_m: how far each tip sinks in the target's set-up.
        wanted_m: how far they should.
    """

    measured: bool
    length_m: float
    wood: str = ""
    e_pa: float | None = None
    mass_kg: float | None = None
    tip_a_m: float | None = None
    tip_b_m: float | None = None
    wanted_m: float | None = None

    @classmethod
    def kept(cls, data: Mapping[str, Any] | None) -> Figures | None:
        """Return them from what was kept."""
        return None if data is None else cls(**data)

    @property
    def tip_m(self) -> float | None:
        """The mean of both blades."""
        if self.tip_a_m is None or self.tip_b_m is None:
            return None
        return 0.5 * (self.tip_a_m + self.tip_b_m)


@dataclass(frozen=True, slots=True)
class Progress:
    """One paddle's place in the job.

    Attributes:
        stage: in a word: fit, wood, design, carve, tune or done.
        tab: the page where the next thing is done.
        say: the next thing to do, a sentence.
        figures: the paddle in a few numbers; None where the design makes no paddle.
    """

    stage: str
    tab: str
    say: str
    figures: Figures | None = None

    @classmethod
    def kept(cls, data: Mapping[str, Any]) -> Progress:
        """Return it from what was kept."""
        return cls(**{**data, "figures": Figures.kept(data.get("figures"))})
