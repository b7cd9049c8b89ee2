"""The scene on a sheet of paper: its marks, its legend, its words."""
