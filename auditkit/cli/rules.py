"""``rules``: the shop rules and their pages."""

from __future__ import annotations

import click

from auditkit.cli import common
from auditkit.order.judged_by import rule_sha256
from auditkit.plugin.loading import load_catalogue


@click.command("rules")
@click.argument("name", required=False)
@common.format_option
def rules_command(name: str | None, form: str) -> None:
    """List the shop rules, or show one rule's page.

    Example: auditkit rules fault-never-reported
    """
    catalogue = load_catalogue()
    chosen = catalogue.rules if name is None else (catalogue.rule(name),)
    if form == "json":
        rows = [
            {
                "rule": r.name,
                "severity": str(r.severity),
                "version": r.version,
                "plugin": catalogue.plugin_of(r.name),
                "sha256": rule_sha256(r) if r.name in catalogue.canon else None,
                "page": r.page,
            }
            for r in chosen
        ]
        common.print_json(rows if name is None else rows[0])
    elif name is None:
        common.print_table([(r.name, str(r.severity), r.summary) for r in chosen])
    else:
        rule = chosen[0]
        plugin = catalogue.plugin_of(rule.name)
        common.say(f"{rule.name} ({rule.severity}, version {rule.version}, {plugin})")
        if rule.name in catalogue.canon:
            common.say(f"SHA-256 of its source, as installed: {rule_sha256(rule)}")
        common.say("")
        common.say(rule.page)
