"""What all other folders use: errors, units, checks of numbers, text files, wording."""
