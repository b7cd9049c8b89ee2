"""Forecasts as issued, their running error, and the field they make."""
