"""From sounding lines to written staves: one aspect of notation a file."""
