"""How plugins are found, called and isolated, and what they are given and give back."""
