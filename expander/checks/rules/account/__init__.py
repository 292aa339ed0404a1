"""Ledger and line-up."""

ORDER = 10
