"""What plugins bring, as one value, and what its rules say about a repair order. Pure.

A catalogue is made once (``auditkit.plugin.loading``) and handed to whoever parses,
judges, states or draws. Nothing of it is kept elsewhere, and nothing is added later.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import TYPE_CHECKING, TypeVar

from auditkit.bench import TestKind, builtin_kinds
from auditkit.errors import InputError
from auditkit.inspection.jurisdiction import Jurisdiction
from auditkit.order.cautions import Caution
from auditkit.order.corrections import judge_corrected, judge_part
from auditkit.order.event_kinds import EventKinds, with_kinds
from auditkit.order.judgement import Judgement, PartJudgement
from auditkit.order.policy import DEFAULT, Policy
from auditkit.order.rule import Parameters, Rule
from auditkit.text.display_text import nearest

if TYPE_CHECKING:
    from auditkit.order.events import RepairOrder
    from auditkit.order.questions import Question

CORE_NAME = "auditkit"
"""Who brings what needs no plugin, where two bring one name."""
Thing = TypeVar("Thing")


@dataclass(frozen=True, slots=True)
class Brought:
    """What one plugin brings, by what its hooks return.

    ``is_canon`` is true of the plugins that auditkit itself ships.
    """

    plugin: str
    rules: tuple[Rule, ...] = ()
    schemas: Mapping[str, Mapping[str, object]] = field(default_factory=dict)
    bench_tests: tuple[TestKind, ...] = ()
    jurisdictions: tuple[Jurisdiction, ...] = ()
    cautions: tuple[Caution, ...] = ()
    is_canon: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class Catalogue:
    """What auditkit and its plugins know, by name; ``makers`` names a rule's plugin.

    ``canon`` has the names of the rules that auditkit ships: only those show something,
    others may object, unless the policy names them.

    Make one with ``catalogue_of``.
    """

    rules: tuple[Rule, ...] = field(repr=False)
    makers: Mapping[str, str] = field(repr=False)
    events: EventKinds = field(repr=False)
    bench_tests: Mapping[str, TestKind] = field(repr=False)
    jurisdictions: tuple[Jurisdiction, ...] = field(repr=False)
    cautions: Mapping[str, Caution] = field(repr=False)
    canon: frozenset[str] = field(repr=False)

    def plugin_of(self, name: str) -> str:
        """Return the name of the plugin that brought the rule ``name``."""
        return self.makers[name]

    def rule(self, name: str) -> Rule:
        """Return the rule ``name``; raise InputError with near names."""
        for one in self.rules:
            if one.name == name:
                return one
        near = nearest(name, self.makers, 3)
        raise InputError(
            f"no rule is called {name!r}",
            what_to_do=f"did you mean {', '.join(near)}?"
            if near
            else "see 'auditkit rules'",
        )

    def parameters(self, rule: Rule, policy: Policy = DEFAULT) -> Parameters:
        """Return what a rule is given, beside the order, under a policy."""
        setting = policy.setting(rule.name)
        return Parameters({**rule.parameters, **setting.parameters}, self)

    def judge(self, order: RepairOrder, policy: Policy = DEFAULT) -> Judgement:
        """Run the rules that the policy lets run; return what they say.

        An amendment that came late takes away and never gives.
        """
        return judge_corrected(self, order, policy)

    def judge_part(
        self,
        order: RepairOrder,
        questions: AbstractSet[Question],
        policy: Policy = DEFAULT,
    ) -> PartJudgement:
        """Return what ``judge`` says of some of the core's questions, and no more."""
        return judge_part(self, order, policy, questions)


def catalogue_of(brought: Iterable[Brought]) -> Catalogue:
    """Return the catalogue of what plugins bring, beside what auditkit itself knows.

    Raises InputError, with both plugins, where two bring one name: chance would decide
    which of them counts.
    """
    many = tuple(brought)
    rules = _by_name("rule", many, lambda b: b.rules, lambda r: r.name)
    core = Brought(CORE_NAME, bench_tests=builtin_kinds())
    tests = _by_name(
        "kind of bench test", (core, *many), lambda b: b.bench_tests, lambda k: k.name
    )
    events = _by_name(
        "event kind", many, lambda b: b.schemas.items(), lambda item: item[0]
    )
    places = _by_name("jurisdiction", many, lambda b: b.jurisdictions, lambda j: j.name)
    cautions = _by_name("caution", many, lambda b: b.cautions, lambda c: c.id)
    return Catalogue(
        rules=tuple(rule for _, rule in rules.values()),
        makers=MappingProxyType({name: by for name, (by, _) in rules.items()}),
        events=_event_kinds(events),
        bench_tests=MappingProxyType({name: k for name, (_, k) in tests.items()}),
        jurisdictions=tuple(place for _, place in places.values()),
        cautions=MappingProxyType({name: c for name, (_, c) in cautions.items()}),
        canon=frozenset(r.name for one in many if one.is_canon for r in one.rules),
    )


def _by_name(
    what: str,
    brought: Iterable[Brought],
    things: Callable[[Brought], Iterable[Thing]],
    name: Callable[[Thing], str],
) -> dict[str, tuple[str, Thing]]:
    """Return things by name, sorted, each with the plugin that brings it."""
    found: dict[str, tuple[str, Thing]] = {}
    for one in brought:
        for thing in things(one):
            if (known := name(thing)) in found:
                raise InputError(
                    f"the {what} {known!r} is brought twice",
                    where=f"plugin {one.plugin}",
                    what_to_do=f"remove one of: {found[known][0]}, {one.plugin}",
                )
            found[known] = (one.plugin, thing)
    return dict(sorted(found.items()))


def _event_kinds(
    brought: Mapping[str, tuple[str, tuple[str, Mapping[str, object]]]],
) -> EventKinds:
    """Return the kinds of event, each with the plugin that brings its schema."""
    for by, (kind, schema) in brought.values():
        try:
            with_kinds({kind: schema})
        except InputError as error:
            error.where = f"plugin {by}, {error.where}"
            raise
    return with_kinds(dict(item for _, item in brought.values()))


CORE = catalogue_of(())
"""What auditkit knows without any plugin: no rule, so it proves nothing."""
