"""Running a plugin's code so that whatever goes wrong in it stays with it."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import redirect_stdout
from io import StringIO
from typing import Any

from assess.base.errors import AssessError, PluginInterrupted, UserError
from assess.knowledge.knowledge_base import PluginFault, Provider


class HookError(Exception):
    """A plugin failed: at which hook, and why."""

    def __init__(self, hook: str, cause: str, subsystem: str | None = None) -> None:
        super().__init__(cause)
        self.hook, self.cause, self.subsystem = hook, cause, subsystem

    def fault(self, provider: Provider) -> PluginFault:
        """The failure with the name of the plugin."""
        return PluginFault(provider, self.hook, self.cause, self.subsystem)


def isolated(hook: str, call: Callable[[], Any], who: object) -> Any:
    """What a plugin's code returns; whatever it raises or prints stays with it.

    Args:
        hook: the name of the hook, for messages.
        call: runs the plugin's code, and all of it: a generator must be read out inside.
        who: the plugin, for messages.

    Raises:
        HookError: it raised anything at all, ``SystemExit`` included.
        UserError: it found a mistake of the user's.
        PluginInterrupted: the user interrupted it.
    """
    printed = StringIO()
    try:
        with redirect_stdout(printed):
            return call()
    except UserError:
        raise
    except AssessError as error:
        raise HookError(hook, str(error)) from error
    except KeyboardInterrupt as error:
        raise PluginInterrupted(f"interrupted in plugin {who}, {hook}") from error
    except BaseException as error:
        raise HookError(hook, f"{type(error).__name__}: {error}") from error
