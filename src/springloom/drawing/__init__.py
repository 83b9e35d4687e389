"""Drawings: one neutral model in millimetres, and thin writers for it.

``model`` holds paths, text and pages; ``lettering`` sets type; ``dimension``, ``tables`` and
``plot`` build items; ``svg`` and ``pdf`` write them out. Nothing here knows about paddles.
"""
