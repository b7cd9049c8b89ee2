"""The ground everything stands on: errors, units, time, positions, geodesy, frames, marks."""
