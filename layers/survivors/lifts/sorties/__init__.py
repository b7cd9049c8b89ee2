"""A sortie: its parts in time, its energy, what has happened, and when it must turn back."""
