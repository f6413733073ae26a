"""The command line: it parses, calls and prints."""

import os

# Pydantic would look through all installed packages for plugins of its own, which takes time, and
# fails where the files of any of them cannot be read.
os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")
