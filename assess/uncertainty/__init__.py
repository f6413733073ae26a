"""What is believed of the unseen, and simulated instruments drawn from it."""
