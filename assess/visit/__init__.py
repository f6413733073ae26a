"""A visit: what is asked next, and answers saved as they are given."""
