"""What is believed of the unseen, and scenarios sampled from it."""
