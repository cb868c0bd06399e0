"""Errors that a user can mend."""


class GravelbookError(Exception):
    """Something the user can mend: one paragraph that says what is wrong, where, and what to do.

    The command line prints the message alone and leaves with status 1.
    """
