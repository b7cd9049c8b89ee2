"""Whether anything was altered since it was recorded, and what was last seen outside."""
