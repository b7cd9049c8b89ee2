"""What people see; it computes nothing."""
