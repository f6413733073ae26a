"""Pages: what is printed or shown in a browser, self-contained and without a network."""
