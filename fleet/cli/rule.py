"""`fleet change rule TASK`."""

from __future__ import annotations

from collections.abc import Mapping

import typer

from fleet.cli.options import print_json, right_now


def change_rule(
    database: str,
    rule: str,
    scope: str,
    cells: Mapping[str, str],
    *,
    end: bool,
    reason: str,
    who: str,
    json: bool,
) -> None:
    """Sets the cells for the rule at the scope, or with `end` takes out of force what was set there."""
    from fleet.outputs.rule_text import own_rule_record, own_rule_text
    from fleet.services.rules import end_own_rule, set_own_rule

    if end:
        found = end_own_rule(database, rule, scope, reason=reason, who=who, now=right_now())
    else:
        found = set_own_rule(database, rule, scope, cells, reason=reason, who=who, now=right_now())
    if json:
        print_json({**own_rule_record(found), "in_force": not end})
    else:
        typer.echo(own_rule_text(found, ended=end))
