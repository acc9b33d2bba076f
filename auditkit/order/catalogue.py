"""The plugins, their rules, and what the rules say about a repair order."""

from __future__ import annotations

import difflib
import importlib.metadata
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import pluggy

from auditkit.errors import AuditkitError, InputError
from auditkit.order import hookspecs
from auditkit.order.findings import Finding, Problem, Severity, Verdict, verdict_of
from auditkit.order.policy import DEFAULT, Policy
from auditkit.order.rule import Rule
from auditkit.text.display_text import plural

if TYPE_CHECKING:
    from auditkit.bench import TestKind
    from auditkit.inspection.jurisdiction import Jurisdiction
    from auditkit.order.events import RepairOrder
    from auditkit.text.values import Json

GROUP = "auditkit"
KINDS = "bench_tests"
"""The parameter under which every rule finds the kinds of bench test by name."""
_NAMED = 3  # rules that a line names


@dataclass(frozen=True, slots=True)
class RuleRun:
    """A rule that ran, as it ran."""

    name: str
    version: int
    severity: Severity


@dataclass(frozen=True, slots=True)
class Judgement:
    """What all rules together say about one repair order.

    ``departures`` says in words where the policy asks less than the rules themselves.
    """

    order_id: str
    verdict: Verdict
    findings: tuple[Finding, ...]
    rules: tuple[RuleRun, ...]
    policy_sha256: str
    departures: tuple[str, ...] = ()

    @property
    def blocking(self) -> tuple[Finding, ...]:
        """The findings that stand between the order and *proven*."""
        return tuple(f for f in self.findings if f.severity is Severity.BLOCKING)

    def to_json(self) -> dict[str, Json]:
        """Return the judgement as ``check --format json`` prints it."""
        findings: list[Json] = [
            {
                "rule": f.rule,
                "severity": str(f.severity),
                "message": f.message,
                "event": f.event,
                "what_to_do": f.what_to_do,
            }
            for f in self.findings
        ]
        return {
            "repair_order": self.order_id,
            "verdict": str(self.verdict),
            "findings": findings,
        }


class Catalogue:
    """Every rule that the plugins brought, and who brought it."""

    def __init__(self, manager: pluggy.PluginManager) -> None:
        self.manager = manager
        found: dict[str, tuple[str, Rule]] = {}
        for implementation in manager.hook.rules.get_hookimpls():
            plugin = implementation.plugin_name
            for rule in _rules_of(plugin, implementation.function()):
                if rule.name in found:
                    message = f"rule {rule.name!r} is brought twice"
                    what_to_do = f"remove one of: {found[rule.name][0]}, {plugin}"
                    raise InputError(
                        message, where=f"plugin {plugin}", what_to_do=what_to_do
                    )
                found[rule.name] = (plugin, rule)
        self._found = dict(sorted(found.items()))
        self.rules: tuple[Rule, ...] = tuple(r for _, r in self._found.values())

    def plugin_of(self, name: str) -> str:
        """Return the name of the plugin that brought the rule ``name``."""
        return self._found[name][0]

    @cached_property
    def bench_tests(self) -> dict[str, TestKind]:
        """The kinds of bench test by name: the core's, and those of plugins."""
        from auditkit.bench import builtin_kinds

        brought = [one for many in self.manager.hook.bench_tests() for one in many]
        return {kind.name: kind for kind in (*brought, *builtin_kinds())}

    @cached_property
    def jurisdictions(self) -> tuple[Jurisdiction, ...]:
        """The inspection rules that the plugins brought; the first of a name counts."""
        brought = [one for many in self.manager.hook.jurisdictions() for one in many]
        return tuple({one.name: one for one in reversed(brought)}.values())

    def rule(self, name: str) -> Rule:
        """Return the rule ``name``; raise InputError with near names."""
        if name in self._found:
            return self._found[name][1]
        near = difflib.get_close_matches(name, self._found, n=3)
        what_to_do = (
            f"did you mean {', '.join(near)}?" if near else "see 'auditkit rules'"
        )
        message = f"no rule is called {name!r}"
        raise InputError(message, what_to_do=what_to_do)

    def judge(self, order: RepairOrder, policy: Policy = DEFAULT) -> Judgement:
        """Run the rules that the policy lets run; return what they say.

        A rule that crashes becomes a blocking finding of its own name and stops
        no other rule; one that raises InputError cannot use a parameter of the policy,
        and nothing is decided. The answer does not depend on the order of the plugins.
        What contradicts a repair blocks, however little the policy makes of the rule.
        """
        for name in policy.rules:
            self.rule(name)
        findings: list[Finding] = []
        kinds = self.bench_tests
        ran: list[RuleRun] = []
        for rule in self.rules:
            setting = policy.setting(rule.name)
            if not setting.run:
                continue
            severity = setting.severity or rule.severity
            ran.append(RuleRun(rule.name, rule.version, severity))
            parameters = {**rule.parameters, **setting.parameters, KINDS: kinds}
            findings += self._run(rule, order, parameters, severity)
        if not ran:
            message = "no rule ran, so nothing was checked"
            what_to_do = "let the policy run at least one rule"
            findings.append(
                Finding("rules", Severity.BLOCKING, message, None, what_to_do)
            )
        findings.sort(key=lambda finding: finding.order)
        return Judgement(
            order.id,
            verdict_of(findings),
            tuple(findings),
            tuple(ran),
            policy.sha256,
            self._departures(policy),
        )

    def _departures(self, policy: Policy) -> tuple[str, ...]:
        """Return in words where a policy asks less than the rules do, or may."""
        settings = [(rule, policy.setting(rule.name)) for rule in self.rules]
        ran = [(rule, setting) for rule, setting in settings if setting.run]
        groups = {
            "did not run": [rule for rule, setting in settings if not setting.run],
            "counted as advice, but for what contradicts": [
                rule
                for rule, setting in ran
                if rule.severity is Severity.BLOCKING
                and setting.severity is Severity.ADVISORY
            ],
            "ran with other parameters": [
                rule for rule, setting in ran if setting.parameters
            ],
        }
        return tuple(
            f"{_some([rule.name for rule in rules])} {what}"
            for what, rules in groups.items()
            if rules
        )

    def _run(
        self,
        rule: Rule,
        order: RepairOrder,
        parameters: Mapping[str, object],
        severity: Severity,
    ) -> list[Finding]:
        try:
            problems: Sequence[Problem] = tuple(rule.check(order, parameters))
            return [
                Finding(
                    rule.name,
                    Severity.BLOCKING if p.contradicts else severity,
                    p.message,
                    p.event,
                    p.what_to_do,
                    p.contradicts,
                )
                for p in problems
            ]
        except InputError:  # a parameter of the policy that the rule cannot use
            raise
        except Exception as error:  # noqa: BLE001  a plugin may fail in any way
            plugin = self.plugin_of(rule.name)
            message = (
                f"the rule crashed in plugin {plugin!r}: "
                f"{type(error).__name__}: {error}"
            )
            what_to_do = (
                f"report this to the maker of plugin {plugin!r}; nothing was decided"
            )
            return [Finding(rule.name, Severity.BLOCKING, message, None, what_to_do)]


def _some(names: Sequence[str]) -> str:
    """Return how many rules, and the names of the first."""
    more = ", ..." if len(names) > _NAMED else ""
    named = ", ".join(names[:_NAMED])
    return f"{plural(len(names), 'rule', 'rules')} ({named}{more})"


def _rules_of(plugin: str, rules: object) -> list[Rule]:
    checked: list[Rule] = []
    for rule in rules if isinstance(rules, Iterable) else [rules]:
        if not isinstance(rule, Rule):
            message = f"rules() returned {type(rule).__name__}, which is not a Rule"
            what_to_do = "return objects made with auditkit.order.rule.rule()"
            raise InputError(message, where=f"plugin {plugin}", what_to_do=what_to_do)
        checked.append(rule)
    return checked


def load_catalogue(plugins: Mapping[str, object] | None = None) -> Catalogue:
    """Return the catalogue of the installed plugins, or of those given by name.

    Plugins are found by entry points of the group ``auditkit``. One that cannot
    be loaded is an InputError: a rule that is silently absent proves nothing.
    """
    manager = pluggy.PluginManager(GROUP)
    manager.add_hookspecs(hookspecs)
    found = _installed() if plugins is None else plugins
    for name in sorted(found):
        try:
            manager.register(found[name], name=name)
        except (ValueError, pluggy.PluginValidationError) as error:
            raise InputError(str(error), where=f"plugin {name}") from error
    try:
        manager.check_pending()
    except pluggy.PluginValidationError as error:
        what_to_do = "spell the hook as auditkit.order.hookspecs does"
        raise InputError(str(error), where="plugins", what_to_do=what_to_do) from error
    _add_kinds(manager)
    return Catalogue(manager)


def _installed() -> dict[str, object]:
    plugins: dict[str, object] = {}
    for point in importlib.metadata.entry_points(group=GROUP):
        if point.name in plugins:
            message = f"two plugins are called {point.name!r}"
            raise InputError(message, what_to_do="uninstall one of them")
        try:
            plugins[point.name] = point.load()
        except AuditkitError:
            raise
        except Exception as error:
            message = f"it cannot be loaded: {type(error).__name__}: {error}"
            what_to_do = "re-install or uninstall it"
            raise InputError(
                message, where=f"plugin {point.name}", what_to_do=what_to_do
            ) from error
    return plugins


def _add_kinds(manager: pluggy.PluginManager) -> None:
    added: list[Mapping[str, Mapping[str, object]]] = manager.hook.schemas()
    if any(added):
        from auditkit.order import schema

        for kinds in added:
            schema.add_kinds(kinds)
