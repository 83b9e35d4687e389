"""Text of a STEP file (ISO 10303-21): numbered entities between a header and an end."""

from __future__ import annotations

import itertools
from collections.abc import Iterable

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

SCHEMA = "AUTOMOTIVE_DESIGN { 1 0 10303 214 1 1 1 1 }"
"""AP214, which every CAD program reads."""


class Entities:
    """The data section while it grows; an entity is known by its number."""

    def __init__(self) -> None:
        """Start with no entity."""
        self._lines: list[str] = []
        self._count = 0

    def add(self, text: str) -> int:
        """Append one entity and return its number."""
        self._count += 1
        self._lines.append(f"#{self._count}={text};")
        return self._count

    def add_points(self, points: Floats) -> npt.NDArray[np.int64]:
        """Append points (…, 3) in mm and return their numbers (…)."""
        flat = np.round(points.reshape(-1, 3), DECIMALS) + 0.0  # no −0
        numbers = np.arange(self._count + 1, self._count + 1 + len(flat))
        form = f"#%d=CARTESIAN_POINT('',(%.{DECIMALS}f,%.{DECIMALS}f,%.{DECIMALS}f));"
        for number, (x, y, z) in zip(numbers.tolist(), flat.tolist(), strict=True):
            self._lines.append(form % (number, x, y, z))
        self._count += len(flat)
        return numbers.reshape(points.shape[:-1])

    def text(self) -> str:
        """All entities, one a line."""
        return "\n".join(self._lines)


DECIMALS = 9
"""Of a coordinate in mm: 1e-12 m, far below what any reader tells apart."""


def exchange_text(entities: Entities, description: str, name: str, timestamp: str) -> str:
    """Return the whole file.

    Args:
        entities: the data section.
        description: what the file holds.
        name: of the file.
        timestamp: ISO 8601, as in 2026-01-31T12:00:00.
    """
    header = (
        f"FILE_DESCRIPTION(({quoted(description)}),'2;1');\n"
        f"FILE_NAME({quoted(name)},{quoted(timestamp)},(''),(''),'','Springloom','');\n"
        f"FILE_SCHEMA(({quoted(SCHEMA)}));"
    )
    return (f"ISO-10303-21;\nHEADER;\n{header}\nENDSEC;\nDATA;\n{entities.text()}\n"
            "ENDSEC;\nEND-ISO-10303-21;\n")


def quoted(text: str) -> str:
    """A STEP string: apostrophes and backslashes doubled, what isn't ASCII as code points."""
    runs = itertools.groupby(text, lambda letter: 32 <= ord(letter) < 127)
    return f"'{''.join(_plain(run) if plain else _coded(run) for plain, run in runs)}'"


def _plain(letters: Iterable[str]) -> str:
    return "".join(letter * 2 if letter in "'\\" else letter for letter in letters)


def _coded(letters: Iterable[str]) -> str:
    codes = [ord(letter) for letter in letters]
    width = 4 if max(codes) < 0x10000 else 8
    return f"\\X{width // 2}\\{''.join(f'{code:0{width}X}' for code in codes)}\\X0\\"


def refs(numbers: Iterable[int]) -> str:
    """A list of references."""
    return f"({','.join([f'#{n}' for n in numbers])})"


def logical(value: bool) -> str:
    """A truth value."""
    return ".T." if value else ".F."
