"""Wood: what a species is, what moisture and grain do to it, and what one board turns out to be.

::

    species      the table: printed averages of clear wood, and what is printed nowhere
    gravity      specific gravity, its two bases kept apart
    moisture     properties, size and density at another moisture content
    grain        what sloping grain leaves of strength and stiffness
    elastic      the nine constants across and along the grain
    estimates    what is used where the table has a gap
    variability  how much boards of one species differ, and together with what
    lognormal    one positive, uncertain number
    readings     weighing, bending test and tap tone as equations
    board        what the maker knows of one board
    assess       from species and readings to this board's stiffness and strength
    verdict      may it go into a loom, and why
    material     the numbers the mechanics needs
    layup        which wood lies where in a laminated blank

Everything is SI; the tables are read once, when first asked for.
"""
