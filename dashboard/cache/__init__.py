"""What is kept between runs and shared by all viewers: the journal opened, results, answers."""
