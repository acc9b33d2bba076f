"""Finds the plugins, and makes one value of what they bring.

A plugin is a module named by an entry point of the group ``auditkit``. One that cannot
be loaded is an InputError: a rule that is silently absent proves nothing.
"""

from __future__ import annotations

import importlib
import importlib.metadata
import pkgutil
from collections.abc import Callable, Hashable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import TypeVar

import pluggy

from auditkit.bench import TestKind
from auditkit.errors import AuditkitError, InputError
from auditkit.inspection.jurisdiction import Jurisdiction
from auditkit.order.catalogue import Brought, Catalogue, catalogue_of
from auditkit.order.cautions import Caution
from auditkit.order.rule import Rule
from auditkit.plugin import hooks

GROUP = "auditkit"
CANON = "auditkit_plugins"
"""The package of the plugins that auditkit ships."""
Thing = TypeVar("Thing")


@dataclass(frozen=True, slots=True)
class Plugins:
    """The plugins as they were loaded: what they bring, and the hooks to call later.

    ``hook`` is for ``sealed``, which brings nothing.
    """

    catalogue: Catalogue
    hook: pluggy.HookRelay


def load_plugins(plugins: Mapping[str, object] | None = None) -> Plugins:
    """Load the installed plugins, or those given by name.

    Raises InputError, naming the plugin, for one that cannot be loaded, misspells a
    hook, brings something else than its hook asks for, or something that is known
    already.
    """
    found = _installed() if plugins is None else plugins
    named = tuple((name, found[name]) for name in sorted(found))
    can_be_kept = all(isinstance(plugin, Hashable) for _, plugin in named)
    return _loaded(named) if can_be_kept else _loaded.__wrapped__(named)


@lru_cache(maxsize=4)
def _loaded(named: tuple[tuple[str, object], ...]) -> Plugins:
    """Load plugins by name; the same ones are asked once in a process."""
    manager = pluggy.PluginManager(GROUP)
    manager.add_hookspecs(hooks)
    for name, plugin in named:
        try:
            manager.register(plugin, name=name)
        except (ValueError, pluggy.PluginValidationError) as error:
            raise InputError(str(error), where=f"plugin {name}") from error
    try:
        manager.check_pending()
    except pluggy.PluginValidationError as error:
        raise InputError(
            str(error),
            where="plugins",
            what_to_do="spell the hook as auditkit.plugin.hooks does",
        ) from error
    brought = [_brought(manager, name) for name, _ in named]
    return Plugins(catalogue_of(brought), manager.hook)


def load_catalogue(plugins: Mapping[str, object] | None = None) -> Catalogue:
    """Return what the installed plugins bring, or those given by name.

    Raises InputError as ``load_plugins`` does.
    """
    return load_plugins(plugins).catalogue


def load_canon() -> Catalogue:
    """Return what the plugins bring that auditkit itself ships, and no other.

    It needs no installed package: a stranger's verifier judges by it in every host.
    """
    package = importlib.import_module(CANON)
    names = sorted(found.name for found in pkgutil.iter_modules(package.__path__))
    return load_catalogue(
        {name: importlib.import_module(f"{CANON}.{name}") for name in names}
    )


def _is_canon(plugin: object) -> bool:
    return str(getattr(plugin, "__name__", "")).startswith(f"{CANON}.")


def _installed() -> dict[str, object]:
    plugins: dict[str, object] = {}
    for point in importlib.metadata.entry_points(group=GROUP):
        if point.name in plugins:
            raise InputError(
                f"two plugins are called {point.name!r}",
                what_to_do="uninstall one of them",
            )
        try:
            plugins[point.name] = point.load()
        except AuditkitError:
            raise
        except Exception as error:
            raise InputError(
                f"it cannot be loaded: {type(error).__name__}: {error}",
                where=f"plugin {point.name}",
                what_to_do="re-install or uninstall it",
            ) from error
    return plugins


def _brought(manager: pluggy.PluginManager, plugin: str) -> Brought:
    """Return what one plugin's hooks return."""
    return Brought(
        plugin,
        rules=_listed(manager.hook.rules, plugin, Rule),
        schemas=_schemas(manager.hook.schemas, plugin),
        bench_tests=_listed(manager.hook.bench_tests, plugin, TestKind),
        jurisdictions=_listed(manager.hook.jurisdictions, plugin, Jurisdiction),
        cautions=_listed(manager.hook.cautions, plugin, Caution),
        is_canon=_is_canon(manager.get_plugin(plugin)),
    )


def _listed(
    hook: pluggy.HookCaller, plugin: str, kind: type[Thing]
) -> tuple[Thing, ...]:
    """Return what a plugin's hook lists; each has to be of ``kind``."""
    things: list[Thing] = []
    for made in _called(hook, plugin):
        for thing in made if isinstance(made, Iterable) else [made]:
            if not isinstance(thing, kind):
                found = type(thing).__name__
                message = f"{hook.name}() returned {found}, which is not a "
                message += kind.__name__
                raise InputError(
                    message,
                    where=f"plugin {plugin}",
                    what_to_do="return what auditkit.plugin says of this hook",
                )
            things.append(thing)
    return tuple(things)


def _schemas(hook: pluggy.HookCaller, plugin: str) -> dict[str, Mapping[str, object]]:
    """Return the schemas of a plugin's hook by kind of event."""
    schemas: dict[str, Mapping[str, object]] = {}
    for made in _called(hook, plugin):
        items = made.items() if isinstance(made, Mapping) else [(made, None)]
        for kind, schema in items:
            if not isinstance(kind, str) or not isinstance(schema, Mapping):
                raise InputError(
                    f"{hook.name}() did not return kinds of event with a schema",
                    where=f"plugin {plugin}",
                    what_to_do="return what auditkit.plugin says of this hook",
                )
            schemas[kind] = schema
    return schemas


def _called(hook: pluggy.HookCaller, plugin: str) -> Iterable[object]:
    """Yield what a plugin's own implementations of a hook return."""
    for implementation in hook.get_hookimpls():
        if implementation.plugin_name != plugin:
            continue
        try:
            yield _result(implementation.function)
        except AuditkitError:
            raise
        except Exception as error:
            raise InputError(
                f"{hook.name}() failed: {type(error).__name__}: {error}",
                where=f"plugin {plugin}",
                what_to_do="re-install or uninstall it",
            ) from error


def _result(function: Callable[..., object]) -> object:
    """Return what a hook returns; what it yields one by one is gathered here."""
    made = function()
    return tuple(made) if isinstance(made, Iterator) else made
