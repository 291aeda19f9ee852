"""Cleared values made into files: no queries, no decisions."""
