"""Timings as ratios against named reference libraries; run with ``python3 dev.py bench``."""
