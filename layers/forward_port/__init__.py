"""forward_port."""
