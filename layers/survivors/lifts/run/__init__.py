"""The lifts run through many draws at once, and what comes of them."""
