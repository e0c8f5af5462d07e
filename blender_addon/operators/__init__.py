"""Operators: read settings, call one core function, show the result."""
