"""The words of the trade and of this program, a line each."""

from __future__ import annotations

TERMS: tuple[tuple[str, str], ...] = (
    ("balance point", "where the paddle lies level on one finger; told from the centre, towards "
     "blade A or B"),
    ("bench reading", "a blade clamped at its root, a known weight hung from it, and how far it "
     "sinks against its unloaded line"),
    ("blade", "the wide part, from the root to the tip; the two are marked A and B"),
    ("blank", "the squared wood the paddle is sawn from"),
    ("crown", "thickness at the ridge, both faces together"),
    ("curvature", "how sharply the bent line turns at a place: one over the radius there"),
    ("density", "mass of the wood over its volume, at the moisture it has"),
    ("E, stiffness", "how much the wood itself resists bending along its grain; the same board, "
     "thicker, is no stiffer in this sense"),
    ("edge", "thickness read 5 mm in from the edge"),
    ("face", "one side of the blade; wood comes off both alike"),
    ("flat", "a plane surface along the whole blade or loom, one of 4, 8 or 16, that the round "
     "comes from"),
    ("grain slope", "how steeply the grain runs out of the edge: 1 in 20 is a hand's breadth in "
     "two metres"),
    ("limit", "what must not be passed: a least crown, a least edge, a least margin"),
    ("loom", "the part the hands hold, between the shoulders"),
    ("margin", "strength of the wood over the stress of a load case; below 1 it breaks. Strength "
     "is what 95 % of such boards exceed"),
    ("misfit", "a reading that doesn't go with the others: measure it again"),
    ("moisture", "water in the wood, in percent of its dry mass"),
    ("90 % sure", "of ten such statements nine hold: the number is inside the range that often"),
    ("overshoot", "the chance that a removal bends the blade further than wanted; wood can't be "
     "put back"),
    ("pass", "one stroke of the plane over the whole length that is meant; what it takes off one "
     "face is the plane's setting"),
    ("progression", "how much of the bend lies outward: 0 an even arc, 2 strongly towards the "
     "tip"),
    ("removal", "what comes off each face at each station in one round"),
    ("ridge", "the middle line of a face, where the blade is thickest"),
    ("ridge fullness", "the section's shape at the ridge: 0 a straight diamond, 0.55 an oval"),
    ("root", "where the blade begins, a little outside the shoulder; the clamp holds here"),
    ("round", "read, plane, clamp anew: one turn of tuning"),
    ("shoulder", "the end of the loom, where a hand comes to rest"),
    ("splitting screen", "how a thin edge would stand a knock, against the default blade: a "
     "comparison, no prediction"),
    ("station", "a named place along the blade where width and thickness are stated and read: "
     "root, 1/4, 1/2, 3/4, tip"),
    ("swing inertia", "what the hands feel when the paddle is swung, beyond its weight"),
    ("tap tone", "the note of the board or blade when it is held and tapped; stiffer is higher"),
    ("target", "how far the tip is to sink under which weight, and with which progression"),
    ("tip deflection", "how far the tip sinks, root clamped, under the target's weight"),
    ("tolerance", "how near to the target is near enough"),
    ("verdict", "whether a board may become a paddle, and every reason for or against"),
)

IS = (
    "a workshop book that reckons: it fits a narrow-bladed wooden paddle to a paddler, judges the "
    "board, draws the plans, and says where to plane and when to stop",
    "mechanics under every number: a tapered wooden beam, wood by the tables or as measured, and a "
    "range with every result",
    "yours alone: everything stays on this machine; nothing is sent anywhere",
)

IS_NOT = (
    "no promise that a paddle will hold: wood differs, and what isn't measured isn't known",
    "no substitute for a practised eye, a sharp plane and a look at the wood",
    "no judge of where you may go with it",
)
