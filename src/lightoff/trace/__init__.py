"""What happened while nobody was there: the burns in a log of time and one channel."""
