"""What plugins declare: models, reading, joint knowledge, order of work, checks."""
