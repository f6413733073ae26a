"""What an assessment holds, as text for the terminal and as plain data for JSON."""
