"""The feeds that tell where ships and aircraft are."""
