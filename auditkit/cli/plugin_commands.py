"""Commands of plugins, which entry points of the group ``auditkit.commands`` name.

``wave = "shop_rules.wave:wave_command"`` adds the click command that this module holds
as ``auditkit wave``. So ``--help`` lists it and imports no plugin.
"""

from __future__ import annotations

import importlib.metadata

import click

from auditkit.errors import AuditkitError, InputError

GROUP = "auditkit.commands"


def origins() -> dict[str, str]:
    """Return the commands of the installed plugins: name -> where it comes from."""
    points = importlib.metadata.entry_points(group=GROUP)
    return {point.name: f"Of the plugin {point.module}." for point in sorted(points)}


def load(name: str) -> click.Command | None:
    """Import and return one command, None where no plugin names it.

    Raises InputError where two plugins name it, or where it cannot be imported.
    """
    points = sorted(importlib.metadata.entry_points(group=GROUP, name=name))
    if not points:
        return None
    where = f"command {name} of {points[0].module}"
    if len(points) > 1:
        raise InputError(
            f"{points[1].module} names a command so as well",
            where=where,
            what_to_do="uninstall one of them",
        )
    try:
        command = points[0].load()
    except AuditkitError:
        raise
    except Exception as error:
        raise InputError(
            f"it cannot be loaded: {type(error).__name__}: {error}",
            where=where,
            what_to_do="re-install or uninstall the plugin",
        ) from error
    if not isinstance(command, click.Command):
        raise InputError(
            f"this is {type(command).__name__}, and no click.Command",
            where=where,
            what_to_do="name the command itself in the plugin's entry point",
        )
    return command
