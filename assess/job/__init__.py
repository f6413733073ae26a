"""What the user enters: job file, surveys, workshop profile; and the object they describe."""
