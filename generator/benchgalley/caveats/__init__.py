"""Limits of the data and hazards, found by rule. One door: `examine`."""

from .examine import examine

__all__ = ["examine"]
