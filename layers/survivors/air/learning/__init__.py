"""The air learnt from what is told, event by event."""
