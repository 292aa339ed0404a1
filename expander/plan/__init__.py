"""Which strand goes to which players, bar by bar."""
