"""One page a file; a page only arranges panels."""
