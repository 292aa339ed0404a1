"""Tests of carrying hand edits over."""
