"""Values: what the stages hand to each other. Nothing here reads files or decides anything."""
