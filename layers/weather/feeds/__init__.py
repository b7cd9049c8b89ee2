"""Readers of weather reports and forecasts."""
