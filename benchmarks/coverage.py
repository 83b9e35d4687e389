"""How far the estimate can be believed: interval coverage, and agreement with MCMC.

    python -m benchmarks.coverage [--paddles 2000] [--cases 10] [--draws 5000] [--seed 20]

Truths are drawn from the prior, bent by the mechanics with large deflection, and read as makers
read; the intervals are those the estimate publishes. The same seed gives the same table.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterable

import numpy as np
from tqdm import tqdm

from springloom.tune.estimate import NORMAL_90
from tests.verification.tune_bench import Floats, drawn, model, read
from tests.verification.tune_coverage import EVIDENCE, Simulated, simulate, unknowns
from tests.verification.tune_mcmc import Agreement, agreement

Row = tuple[str, ...]


def main() -> None:
    """Print both tables."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.coverage", description=__doc__,
                                     formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--paddles", type=int, default=2000)
    parser.add_argument("--cases", type=int, default=10)
    parser.add_argument("--draws", type=int, default=5000)
    parser.add_argument("--seed", type=int, default=20)
    chosen = parser.parse_args()
    found = simulate(chosen.paddles, chosen.seed, published=True, progress=_bar)
    print(f"\nshare of truths inside the 90 % interval, in %; {chosen.paddles} paddles, "
          f"seed {chosen.seed}; target 86 to 94\n")
    _print(coverage_rows(found))
    print(f"\nestimate against MCMC, {chosen.draws} draws; target: means within 0.1 sd, "
          "sds within 10 %\n")
    _print(agreement_rows(chosen.cases, chosen.draws, chosen.seed))


def _bar(numbers: Iterable[int]) -> Iterable[int]:
    return tqdm(numbers, leave=False, disable=not sys.stderr.isatty())


def coverage_rows(found: Simulated) -> list[Row]:
    """A row for each kind of unknown, a column for each mix of readings."""
    kinds = unknowns(model().layout)
    rows: list[Row] = [("", "all", *EVIDENCE)]
    scores = {name: found.scores[:, where] for name, where in kinds.items()}
    scores |= {"all unknowns": found.scores, "tip deflection": found.sinks}
    for name, values in scores.items():
        rows.append((name, _share(values), *(_share(values[found.evidence == mix])
                                             for mix in EVIDENCE)))
    for name, counts in (("paddles with a misfit", found.misfits),
                         ("paddles in doubt", found.blocked),
                         ("with a reading softened", found.softened)):
        rows.append((name, _percent(counts > 0),
                     *(_percent(counts[found.evidence == mix] > 0) for mix in EVIDENCE)))
    return rows


def _share(scores: Floats) -> str:
    return _percent(np.abs(scores) < NORMAL_90)


def _percent(yes: np.ndarray[tuple[int, ...], np.dtype[np.bool_]]) -> str:
    return f"{100.0 * float(np.mean(yes)):.1f}"


def agreement_rows(cases: int, draws: int, seed: int) -> list[Row]:
    """A row for each case, the mixes of readings in turn."""
    mixes = list(EVIDENCE)
    rows: list[Row] = [("readings", "mean off by, sd", "mode off by, sd", "sd / sampled sd",
                        "independent draws")]
    for case in _bar(range(cases)):
        mix = mixes[case % len(mixes)]
        found = _one(mix, draws, np.random.default_rng([seed, case]))
        rows.append((mix, f"{np.max(np.abs(found.means)):.3f}",
                     f"{np.max(np.abs(found.modes)):.3f}",
                     f"{found.sds.min():.3f} to {found.sds.max():.3f}", f"{found.effective:.0f}"))
    return rows


def _one(mix: str, draws: int, random: np.random.Generator) -> Agreement:
    """The first paddle all of whose readings are taken as they are."""
    while True:
        truth = drawn(model(), random)
        readings = read(model(), truth, EVIDENCE[mix](model().paddle), random)
        try:
            return agreement(model(), readings, draws, seed=1)
        except ValueError:
            continue


def _print(rows: list[Row]) -> None:
    widths = [max(len(row[i]) for row in rows) for i in range(len(rows[0]))]
    for row in rows:
        print("  ".join([row[0].ljust(widths[0]),
                         *(cell.rjust(w) for cell, w in zip(row[1:], widths[1:], strict=True))]))


if __name__ == "__main__":
    main()
