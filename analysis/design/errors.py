"""What a design refuses, in sentences."""

from __future__ import annotations


class DesignError(ValueError):
    """A matrix that cannot be made; its text is one paragraph: what is wrong, where, and what to do."""
