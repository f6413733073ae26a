"""The command line: it parses, calls and prints."""

import atexit
import gc
import os

# Pydantic would look through all installed packages for plugins of its own, which takes time, and
# fails where the files of any of them cannot be read.
os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")

RARELY = (50_000, 20, 50)
"""From how many new objects on they are looked through for what can be freed (:mod:`gc`)."""

# Classes and declarations stay to the end: going through them again and again to find what could
# be freed takes a tenth of the time of a command, and doing so at its end takes a third.
gc.set_threshold(*RARELY)
atexit.register(gc.freeze)
