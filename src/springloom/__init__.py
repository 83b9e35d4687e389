"""Fit, plan, carve and tune a narrow-bladed wooden kayak paddle."""

__version__ = "0.1.0"
