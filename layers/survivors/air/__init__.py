"""The air of each refuge: what was read, what is breathed, how long it lasts."""
