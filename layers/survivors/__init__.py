"""survivors."""
