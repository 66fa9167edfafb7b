"""From trials to numbers: every figure of a site, found by its address."""

from .evaluate import evaluate, glossary

__all__ = ["evaluate", "glossary"]
