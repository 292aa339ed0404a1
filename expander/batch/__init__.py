"""Many sketches at once: jobs paired from sketches, rules and line-ups, done by many workers."""
