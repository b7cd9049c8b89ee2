"""Who writes the files of the exercise: one module a part, and the truth they are drawn from."""
