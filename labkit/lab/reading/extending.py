"""One lab on top of another: the fields and the text of both, put together.

Header: `id`, `version` and `title` are the child's. Its `draw`, `let`, `sources` and `tables`
replace the parent's name by name and add new names; `network` and `difficulty` replace the
parent's; `valid` adds rules; `accepted` adds what may stand, in the place of the parent's for the
same finding.
Text: an exercise of the parent's name takes its place, text in a section of the parent's (by its
id, else by its heading) replaces the text there, anything else is added. `leave out` takes parts
away. A caution stays, whatever happens to what stands around it, until it is left out by name.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import Any, Final

from labkit.lab.reading.cautions import Cautions
from labkit.lab.reading.fields import LeaveOutFields, check_fields
from labkit.lab.reading.putting import Sections
from labkit.lab.reading.sections import is_exercise, sections_of
from labkit.lab.reading.source import Fields, Path, Source
from labkit.language.problems import DefinitionError, Problem, nearest

_OWN: Final = ("extends", "leave out", "id", "version", "title")
_NAMED: Final = ("draw", "let", "sources", "scenery", "tables")


def extended(child: Source, parent: Source) -> Source:
    """The definition that `child` makes of `parent`. Raises `DefinitionError`."""
    left_out = _left_out(child)
    problems = [
        *_unknown_names(child, parent, left_out),
        *_unknown_rules(child, parent, left_out),
        *_unknown_parts(child, parent, left_out),
    ]
    if problems:
        raise DefinitionError(problems)
    header = _header(child.header, parent.header, left_out)
    cautions = Cautions.of(child, left_out)
    # A heading with a name of the scenery is the same whatever the child says instead.
    scenery = _scenery(parent.header)
    inherited = cautions.left_out_of(sections_of(parent, scenery))
    own = sections_of(child, scenery)
    sections = Sections(child, own, inherited, left_out, cautions).put_together()
    parts = tuple(part for section in sections for part in section.parts)
    remarks = (*parent.remarks, *cautions.remarks)
    together = replace(child, header=header, parts=parts, remarks=remarks)
    sections_of(together)  # tells of two that are called the same now
    return together


def _left_out(child: Source) -> LeaveOutFields:
    if "leave out" not in child.header.data:
        return LeaveOutFields()
    label = "leave out → "
    if not isinstance(child.header.data["leave out"], dict):
        raise DefinitionError(
            [
                Problem(
                    child.header.place(("leave out",)),
                    "must be a group of fields.",
                    "Write 'exercises:', 'sections:', 'names:' or 'rules:' below it, indented.",
                )
            ]
        )
    fields: LeaveOutFields = check_fields(LeaveOutFields, child.header.inside("leave out"), label)
    return fields


def _unknown_names(child: Source, parent: Source, left_out: LeaveOutFields) -> list[Problem]:
    known = {name for group in _NAMED for name in _group(parent.header, group)}
    return _unknown(child, "names", left_out.names, known, parent)


def _unknown_rules(child: Source, parent: Source, left_out: LeaveOutFields) -> list[Problem]:
    known = {reason for reason in map(_because, _listed(parent.header, "valid")) if reason}
    return _unknown(child, "rules", [_flat(rule) for rule in left_out.rules], known, parent)


def _unknown_parts(child: Source, parent: Source, left_out: LeaveOutFields) -> list[Problem]:
    exercises = {part.name for part in parent.parts if is_exercise(part)}
    sections = {
        name
        for section in sections_of(parent, _scenery(parent.header))
        for name in (section.id, section.name)
    }
    sections -= {""}
    return [
        *_unknown(child, "exercises", left_out.exercises, exercises, parent),
        *_unknown(child, "sections", left_out.sections, sections, parent),
    ]


def _unknown(
    child: Source, group: str, names: Iterable[str], known: set[str], parent: Source
) -> list[Problem]:
    what = {"names": "name", "rules": "rule", "exercises": "exercise", "sections": "section"}
    return [
        Problem(
            child.header.place(("leave out", group, index)),
            f"'{name}' is no {what[group]} of the lab that is extended ({parent.file}).",
            nearest(name, known),
        )
        for index, name in enumerate(names)
        if name not in known
    ]


def _header(child: Fields, parent: Fields, left_out: LeaveOutFields) -> Fields:
    data: dict[str, Any] = {}
    origins: dict[Path, tuple[Fields, Path]] = {(): (child, ())}
    for name in [*child.data, *(name for name in parent.data if name not in child.data)]:
        if name in _OWN:
            if name in child.data:
                data[name] = child.data[name]
        elif name in _NAMED and _both_groups(child, parent, name):
            data[name] = _names(name, child, parent, left_out, origins)
        elif name == "valid" and isinstance(parent.data.get("valid"), list):
            gone = {_flat(rule) for rule in left_out.rules}
            kept = [_because(rule) not in gone for rule in _listed(parent, name)]
            data[name] = _added(name, child, parent, kept, origins)
        elif name == "accepted" and isinstance(parent.data.get("accepted"), list):
            kept = _still_accepted(child, parent, left_out)
            data[name] = _added(name, child, parent, kept, origins)
        else:
            origin = child if name in child.data else parent
            data[name] = origin.data[name]
            origins[(name,)] = (origin, (name,))
    return Fields(data, child.file, child.line, child.lines, origins)


def _both_groups(child: Fields, parent: Fields, name: str) -> bool:
    """Whether a group can be put together name by name; anything else the reader refuses."""
    groups = [fields.data[name] for fields in (child, parent) if name in fields.data]
    return all(isinstance(group, dict) for group in groups)


def _names(
    group: str,
    child: Fields,
    parent: Fields,
    left_out: LeaveOutFields,
    origins: dict[Path, tuple[Fields, Path]],
) -> dict[str, Any]:
    """The parent's names with the child's in their places.

    A new name stands before the next name of the parent that the child replaces, otherwise last:
    so what the child puts in can use what it adds.
    """
    own, inherited = _group(child, group), _group(parent, group)
    waiting: list[str] = []
    before: dict[str, list[str]] = {}
    for name in own:
        waiting.append(name)
        if name in inherited:
            before[name], waiting = waiting, []
    order = [name for old in inherited for name in before.get(old, [old])] + waiting
    origins[(group,)] = (child if own else parent, (group,))
    for name in order:
        origins[(group, name)] = (child if name in own else parent, (group, name))
    return {
        name: own[name] if name in own else inherited[name]
        for name in order
        if name in own or name not in left_out.names
    }


def _added(
    name: str,
    child: Fields,
    parent: Fields,
    kept: list[bool],
    origins: dict[Path, tuple[Fields, Path]],
) -> Any:
    """The items of the parent's list that are kept, then the child's."""
    added = child.data.get(name, [])
    if not isinstance(added, list):
        origins[(name,)] = (child, (name,))
        return added
    inherited = [
        (parent, index, item) for index, item in enumerate(_listed(parent, name)) if kept[index]
    ]
    items = [*inherited, *((child, index, item) for index, item in enumerate(added))]
    for place, (origin, index, _) in enumerate(items):
        origins[name, place] = (origin, (name, index))
    return [item for _, _, item in items]


def _still_accepted(child: Fields, parent: Fields, left_out: LeaveOutFields) -> list[bool]:
    """Which of the parent's acceptances stand: not where the exercise goes or the child says so."""
    own = [_whose(item) for item in _listed(child, "accepted")]
    return [
        _whose(item)[1] not in left_out.exercises and _whose(item) not in own
        for item in _listed(parent, "accepted")
    ]


def _whose(item: Any) -> tuple[Any, ...]:
    """What an acceptance is about: the finding, the exercise, and of what."""
    fields = item if isinstance(item, dict) else {}
    return tuple(_flat(fields.get(name, "")) for name in ("finding", "exercise", "of"))


def _group(fields: Fields, name: str) -> dict[str, Any]:
    group = fields.data.get(name, {})
    return group if isinstance(group, dict) else {}


def _scenery(fields: Fields) -> dict[str, str]:
    words = _group(fields, "scenery")
    return {name: _flat(text) for name, text in words.items() if isinstance(text, str)}


def _listed(fields: Fields, name: str) -> list[Any]:
    items = fields.data.get(name, [])
    return items if isinstance(items, list) else []


def _because(rule: Any) -> str:
    return _flat(rule.get("because", "")) if isinstance(rule, dict) else ""


def _flat(text: Any) -> str:
    return " ".join(text.split()) if isinstance(text, str) else ""
