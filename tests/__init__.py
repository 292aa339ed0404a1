"""Tests mirror the tree of the package; what several of them share is at the top."""
