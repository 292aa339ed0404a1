"""Instruments, line-ups and limits: data files and what reads them."""
