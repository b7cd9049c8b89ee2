"""Lines of position, where they cross, and a fix made of them."""
