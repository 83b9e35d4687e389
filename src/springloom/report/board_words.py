"""Words of a board: the verdict, what is known of its wood, and what each reading told."""

from __future__ import annotations

from springloom.report.words import Words
from springloom.wood.assess import BoardAssessment

LOW_END = "Strength is reckoned with at the low end: 95 % of such boards are stronger."
UNREAD = "nothing was read; weighing and a bending test would narrow the stiffness most"
PROPERTY_HEADS = ("", "species", "this board", "90 % sure of")


def board_headline(found: BoardAssessment, grade: str) -> str:
    """Return the verdict in a line."""
    return f"This board of {found.wood.common_name}: {grade}"


def property_rows(found: BoardAssessment, words: Words) -> list[tuple[str, str, str, str]]:
    """Cells of what is known: the species' figure, this board's, and its 90 % range."""
    rows = []
    named = (("stiffness E along the grain", "e_pa"), ("bending strength", "mor_pa"),
             ("shear strength", "shear_pa"), ("strength across the grain", "tperp_pa"),
             ("density", "density_kg_m3"))
    shows = {"e_pa": words.modulus, "density_kg_m3": words.density}
    for name, key in named:
        show = shows.get(key, words.stress)
        before, after = getattr(found.before, key), getattr(found.after, key)
        low, high = after.interval(0.9)
        bare = show(low).split(" ", maxsplit=1)[0]
        rows.append((name, show(before.median), show(after.median), f"{bare} to {show(high)}"))
    return rows


def stiffness_words(found: BoardAssessment, words: Words) -> str:
    """Return the stiffness with its band, in a few words."""
    _, _, median, band = property_rows(found, words)[0]
    return f"{median}, 90 % sure of {band}"


def evidence_words(found: BoardAssessment) -> list[str]:
    """Say what each reading did to the stiffness' spread."""
    return [
        f"{e.kind}: spread of the stiffness from {100 * e.sd_ln_e_before:.0f} % "
        f"to {100 * e.sd_ln_e_after:.0f} %"
        for e in found.evidence
    ] or [UNREAD]
