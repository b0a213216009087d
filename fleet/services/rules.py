"""A client's, a site's or one tank's own interval, minutes or switch for a service task, and who set it."""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime

from fleet.db.repository import Register
from fleet.errors import BadInput, NotFound
from fleet.files.catalogue_files import read_catalogue
from fleet.files.own_rules import read_own_rule
from fleet.services.reasons import require_reason
from fleet.values.catalogue import Catalogue, TaskRule
from fleet.values.overrides import RuleOverride, check_overrides


def set_own_rule(
    url: str, rule: str, scope: str, cells: Mapping[str, str], *, reason: str, who: str, now: datetime
) -> RuleOverride:
    """Sets what the cells say (interval, minutes, active) for a rule at a scope, beside what was set there before.

    `scope` is the code of a client, site or any subject, empty for all. Raises NotFound for an unknown rule or scope,
    BadInput for cells that make no sense, NotAllowed where life-safety work would be lengthened or switched off.
    """
    if not cells:
        raise BadInput("nothing to set: expected interval=…, minutes=… or active=yes or no")
    require_reason(reason)
    catalogue = read_catalogue()
    known = _rule_named(catalogue, rule)
    with Register.open(url) as register:
        _refuse_unknown_scope(register, scope)
        standing = _standing(register, rule, scope) or RuleOverride(rule, scope)
        override = replace(read_own_rule(cells, standing, known), set_by=who, reason=reason)
        check_overrides([override], catalogue)
        register.save_rule_override(override, who=who, now=now, reason=reason)
    return override


def end_own_rule(url: str, rule: str, scope: str, *, reason: str, who: str, now: datetime) -> RuleOverride:
    """Takes out of force what was set for a rule at a scope; returns it as it was. Raises NotFound."""
    require_reason(reason)
    _rule_named(read_catalogue(), rule)
    with Register.open(url) as register:
        return register.end_rule_override(rule, scope, who=who, now=now, reason=reason)


def own_rules(url: str) -> tuple[RuleOverride, ...]:
    """Everything that people have set, by rule and scope; nothing where there is no register yet."""
    try:
        with Register.open(url, read_only=True) as register:
            return register.rule_overrides()
    except NotFound:
        return ()


def _rule_named(catalogue: Catalogue, rule: str) -> TaskRule:
    if rule not in catalogue.rule_by_id:
        near = difflib.get_close_matches(rule, list(catalogue.rule_by_id), n=1)
        hint = f"; is it {near[0]}?" if near else "; `fleet show rules` lists them"
        raise NotFound(f"no service task {rule!r} in the catalogue{hint}")
    return catalogue.rule_by_id[rule]


def _refuse_unknown_scope(register: Register, scope: str) -> None:
    known = register.known_codes()
    if scope and scope not in known:
        near = difflib.get_close_matches(scope, list(known), n=1)
        raise NotFound(f"--scope: nothing has the code {scope!r}" + (f"; is it {near[0]}?" if near else ""))


def _standing(register: Register, rule: str, scope: str) -> RuleOverride | None:
    return next((one for one in register.rule_overrides() if (one.rule, one.scope) == (rule, scope)), None)
