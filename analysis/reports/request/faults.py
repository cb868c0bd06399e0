"""Faults of a request that can be told from the options alone."""

from __future__ import annotations

from registry.schema.errors import GravelbookError


class MalformedOptionError(GravelbookError):
    """An option holds what cannot be read; one paragraph that says which, where and what is allowed.

    The command line leaves with status 2. What needs the registry to be told, a column that is not there for
    example, is a plain GravelbookError and leaves with status 1.
    """
