"""The checks, one file each, in folders that are the sections of the catalogue."""
