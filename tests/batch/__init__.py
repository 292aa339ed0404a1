"""Tests of batches: orders, jobs files, what is done and what stands, stops and lost workers."""
