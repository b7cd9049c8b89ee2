"""The lifts: vehicles, sorties, the plan in draws, and the margin."""
