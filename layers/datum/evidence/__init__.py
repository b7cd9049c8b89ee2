"""What was reported of where she is, and what each report makes likely."""
