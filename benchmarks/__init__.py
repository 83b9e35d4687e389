"""Measured speed; run all with ``python3 dev.py bench``."""
