"""The sea at the place of work: waves, tide, windows and the hatch."""
