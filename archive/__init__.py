"""Told Here: a local archive of recorded speech, from a recorder's card to a consented quote."""

__version__ = "0.1.0"
