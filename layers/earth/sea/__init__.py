"""The sea that all layers share: its tides, and how it may come."""
