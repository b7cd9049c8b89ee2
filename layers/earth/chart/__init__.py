"""What a chart is made of: frames, graticule, grids and marks."""
