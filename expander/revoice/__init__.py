"""The same music for another line-up: a full score read into lines, and given to new players."""
