"""Print how far the beam is from the solid for every case: ``python -m tests.solid3d``."""

from __future__ import annotations

from tests.solid3d.cases import CASES, Case
from tests.solid3d.compare import Difference, compare


def main() -> None:
    heads = ("tip", "line", "(local)", "f1", "f2", "stress", "solver")
    print(f"{'blade':36}" + "".join(f"{head:>9}" for head in heads))
    for case in CASES:
        print(row(case, compare(case)))


def row(case: Case, found: Difference) -> str:
    shares = (found.tip, found.line, found.line_local, *found.frequencies, found.stress)
    figures = "".join(f"{100.0 * share:8.2f}%" for share in shares)
    return f"{case!s:36}{figures}{found.solved.seconds:7.1f} s"


if __name__ == "__main__":
    main()
