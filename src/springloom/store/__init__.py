"""The store: every paddle, board and reading, as typed, whole after every write.

=============  ================================================================
opening        a place to an open store; reads are one snapshot, writes one transaction
schema         the tables; ``migrations`` how older stores become like these
entries        what every entry has: uid, text, the newest of a chain, what is missing
typed          what was typed under one unit of length, for a file in another
people … jobs  one module for each thing that is kept
layout         a design file from all of these, and a design file taken in
archive        everything as one JSON file, and back; ``readings_csv`` for a spreadsheet
backup         dated copies beside the file
=============  ================================================================
"""

from __future__ import annotations

from springloom.store.opening import Pen, Store, open_store

__all__ = ["Pen", "Store", "open_store"]
