"""Drawings: one neutral model in millimetres, and thin writers for it.

``model`` holds paths, text and pages; ``lettering`` sets type; ``dimension``, ``tables`` and
``plot`` build items; ``tiling`` cuts a page for a small printer; ``svg``, ``pdf`` and ``dxf``
write them out. None of these knows about paddles; ``outline`` takes their curves over, and
``plan_sheet``, ``templates`` and ``full_outline`` put them on paper at full size.
"""
