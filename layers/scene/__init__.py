"""The scene: every layer's marks, projected once in one chart frame, and what goes out of it."""
