"""The one geometric model: sections, curves through stations, blades and paddles."""
