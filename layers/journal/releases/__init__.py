"""What others than the watch may know: rules of the kinds, and the shelf that keeps them."""
