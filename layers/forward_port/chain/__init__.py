"""The chain of activities to first rescue, and its spread."""
