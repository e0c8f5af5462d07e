"""Panels: they only read."""
