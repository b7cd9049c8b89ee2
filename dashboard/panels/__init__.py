"""One box on a page a file, each with show(seen)."""
