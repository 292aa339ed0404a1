"""Tests of the parts: what each player gets."""
