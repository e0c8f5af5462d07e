"""Thousands of takes: found, reviewed on all cores or machines, kept in a ledger, summed up."""
