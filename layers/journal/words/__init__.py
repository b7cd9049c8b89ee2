"""What a record is called and how it reads, where people read."""
