"""What to look at next, and which faults may still be hidden."""
