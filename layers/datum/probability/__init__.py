"""Where she can be, as weighted particles, a grid, bands and heaps."""
