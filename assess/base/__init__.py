"""What everything else may use: errors, units, checks of numbers. It knows nothing of the rest."""
