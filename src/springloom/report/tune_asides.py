"""What a tuning page shows beside the advice: where the target comes from, words, traces."""

from __future__ import annotations

from dataclasses import dataclass
from textwrap import shorten

from springloom.records.design import Design
from springloom.report.data import Data, plain
from springloom.tune.targets import Carried
from springloom.tune.trace import TraceFit, fit_trace

_MOST, _LONG = 3, 150  # of each, and letters of a remark, that a page has room for


@dataclass(frozen=True, slots=True)
class Asides:
    """Shown as they are; none of it moves a number here.

    Attributes:
        carried: the paddle the target was carried over from.
        remarks: what hands and eyes said.
        traces: sections traced, compared with the wanted ones.
    """

    carried: Carried | None = None
    remarks: tuple[str, ...] = ()
    traces: tuple[TraceFit, ...] = ()

    @classmethod
    def of(cls, design: Design) -> Asides:
        """Take them from a design."""
        halves = {"a": design.paddle.a, "b": design.paddle.b}
        return cls(design.carried, design.remarks,
                   tuple(fit_trace(trace, halves[trace.side]) for trace in design.traces))

    def words(self, *, more: bool) -> list[str]:
        """Remarks in quotes and what traces say; in full, and also as wanted, with ``more``."""
        told = [fit.words for fit in self.traces if more or _off(fit)]
        said = [f"you said: “{remark if more else shorten(remark, _LONG, placeholder=' …')}”"
                for remark in self.remarks]
        if more:
            return said + told
        left = max(len(said) - _MOST, 0) + max(len(told) - _MOST, 0)
        rest = [f"{left} more of these with --more"] if left else []
        return said[:_MOST] + told[:_MOST] + rest

    def data(self) -> Data:
        """The same as data, deviations point by point."""
        return {"target_like": plain(self.carried), "remarks": list(self.remarks),
                "traces": [_trace(fit) for fit in self.traces]}


def _off(fit: TraceFit) -> bool:
    """Whether a trace has something to say."""
    return not fit.words.endswith("as wanted, as far as the points tell")


def _trace(fit: TraceFit) -> Data:
    more, sd = fit.fuller
    return {
        "label": fit.trace.label, "say": fit.words, "fuller_ratio": more, "fuller_sd_ratio": sd,
        "deviations": plain(fit.deviations), "high": plain(fit.high), "low": plain(fit.low),
    }
