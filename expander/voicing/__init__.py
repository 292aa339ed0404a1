"""Notes to players: dealing, and chords from symbols and under a line."""
