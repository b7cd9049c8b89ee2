"""Where to look next: effort, patterns and who steers them."""
