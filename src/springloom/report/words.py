"""Quantities as a maker reads them, in millimetres or inches, and small tables of them."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from springloom.units import (
    METRE_PER_INCH,
    NEWTON_PER_POUND_FORCE,
    PASCAL_PER_PSI,
    STANDARD_GRAVITY,
    System,
    format_density,
    format_force,
    format_length,
    format_mass,
    format_modulus,
)

_COARSE = 0.2  # m; from here on whole millimetres or sixteenths of an inch say enough
WIDTH = 80
"""Columns of a terminal page."""


@dataclass(frozen=True, slots=True)
class Words:
    """Writes quantities in one system; ``coarse`` for lengths that are known to no better."""

    system: System = "mm"
    coarse: bool = False

    def length(self, metres: float, decimals: int | None = None) -> str:
        """``82.6 mm`` (``2210 mm`` from 200 mm up) or ``3 1/4 in``."""
        return _length(metres, self.system, decimals, self.coarse)

    def bare(self, metres: float, decimals: int | None = None) -> str:
        """A length without its unit, for a column whose heading names it."""
        return self.length(metres, decimals).removesuffix(f" {self.system}")

    def thin(self, metres: float) -> str:
        """A shaving: ``0.40 mm``, or inches to the nearest 1/128 as planes are spoken of."""
        if self.system == "mm":
            return format_length(metres, "mm", decimals=2)
        steps = Fraction(round(metres / METRE_PER_INCH * 128), 128)
        return f"{steps} in"

    def both(self, metres: float) -> str:
        """A length in the chosen system, the other in brackets."""
        other: System = "in" if self.system == "mm" else "mm"
        return f"{self.length(metres)} ({_length(metres, other, None, self.coarse)})"

    def mass(self, kilograms: float) -> str:
        """``708 g`` or ``1 lb 9.0 oz``."""
        return format_mass(kilograms, self.system)

    def hung(self, newtons: float) -> str:
        """A hung weight: ``10 lb (44.5 N)`` or ``4.5 kg (44.1 N)``, whichever is rounder."""
        pounds, kilograms = newtons / NEWTON_PER_POUND_FORCE, newtons / STANDARD_GRAVITY
        rounder = abs(kilograms * 2.0 - round(kilograms * 2.0)) < 1e-3
        weight = f"{kilograms:.3g} kg" if rounder else f"{pounds:.3g} lb"
        return f"{weight} ({newtons:.1f} N)"

    def force(self, newtons: float) -> str:
        """``44.5 N`` or ``10.0 lbf``."""
        return format_force(newtons, self.system)

    def modulus(self, pascals: float) -> str:
        """``8.42 GPa`` or ``1.22 Mpsi``."""
        return format_modulus(pascals, self.system)

    def stress(self, pascals: float) -> str:
        """``27.0 MPa`` or ``3910 psi``."""
        if self.system == "mm":
            return f"{1e-6 * pascals:.1f} MPa"
        return f"{round(pascals / PASCAL_PER_PSI, -1):.0f} psi"

    def density(self, kg_m3: float) -> str:
        """``372 kg/m3`` or ``23.2 lb/ft3``."""
        return format_density(kg_m3, self.system)

    def volume(self, m3: float) -> str:
        """``2.00 L`` or ``122 cubic in``."""
        if self.system == "mm":
            return f"{1e3 * m3:.2f} L"
        return f"{m3 / METRE_PER_INCH**3:.0f} cubic in"

    def range(self, low: float, high: float) -> str:
        """Two lengths of one unit."""
        return f"{self.bare(low)} to {self.length(high)}"

    def stress_unit(self) -> str:
        """Unit of :meth:`bare_stress`."""
        return "MPa" if self.system == "mm" else "psi"

    def bare_stress(self, pascals: float) -> str:
        """A stress without its unit."""
        return self.stress(pascals).split(" ", maxsplit=1)[0]


def _length(metres: float, system: System, decimals: int | None, coarse: bool) -> str:
    if decimals is None:
        coarse = coarse or abs(metres) >= _COARSE
        decimals = 0 if coarse else 1
    return format_length(metres, system, decimals=decimals, denominator=16 if coarse else 64)


def grid(headers: Sequence[str], rows: Sequence[Sequence[object]], align: str = "") -> str:
    """Return a plain table; ``align`` has l, r or c for each column."""
    from tabulate import tabulate  # noqa: PLC0415 - slow to load, and only terminals want it

    names = {"l": "left", "r": "right", "c": "center"}
    columns = [names[letter] for letter in (align or "l" + "r" * (len(headers) - 1))]
    return tabulate([[str(cell) for cell in row] for row in rows], headers=list(headers),
                    tablefmt="simple", colalign=columns, disable_numparse=True)


def folded(text: str, indent: str = "  ", first: str | None = None) -> str:
    """Fold a sentence to the page's width."""
    start = indent if first is None else first
    return textwrap.fill(text, WIDTH, initial_indent=start, subsequent_indent=indent)


def bullets(sentences: Sequence[str]) -> list[str]:
    """One folded bullet each."""
    return [folded(sentence, "    ", "  - ") for sentence in sentences]


def heading(text: str) -> str:
    """A heading line."""
    return f"\n{text}\n{'-' * len(text)}"
