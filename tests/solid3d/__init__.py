"""A blade as a three-dimensional orthotropic solid, solved by CalculiX: the beam's referee.

::

    mesh     bricks fitted to the blade's true surface
    deck     the solver's input
    run      the solver, and its results
    cases    the blades that are held against it
    compare  how far the beam is from it

Only ``compare`` imports the mechanics it judges; the rest shares the shape and the wood's
constants. ``python -m tests.solid3d`` prints the table; tests and benchmarks use it alike.
"""
