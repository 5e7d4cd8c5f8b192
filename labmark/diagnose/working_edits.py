"""Slips as edits of a formula's steps: what is left out, turned upside down, swapped or put in another's place.

Each verb takes the steps and what `slips.toml` says it is about, and returns the steps as edited, or None where the
practical has nothing of the kind. Names may hold a star ("*.dilution.taken"); one with a question mark may be missing.
"""

from collections.abc import Callable, Mapping, Sequence
from fnmatch import fnmatchcase
from functools import partial
from typing import Any

from labmark.formula import Step

Steps = tuple[Step, ...]
OTHER_WAY = {"×": "÷", "÷": "×"}
Terms = list[tuple[str, str]]


def edited(steps: Steps, do: Mapping[str, Any]) -> Steps | None:
    """Return the steps after an edit; None where it does not apply."""
    for verb, about in do.items():
        found = VERBS[verb](steps, about)
        if found is None:
            return None
        steps = found
    return steps


def with_terms(step: Step, terms: Sequence[tuple[str, str]]) -> Step:
    """Return a step that is done with these terms; the very same where they are its own."""
    # The sign of the first is understood.
    do = " ".join([terms[0][1], *(word for term in terms[1:] for word in term)])
    return step if (*terms,) == step.terms else step._replace(do=do)


def each_named(steps: Steps, names: Sequence[str], change: Callable[[Terms], Terms]) -> Steps | None:
    """Return the steps with the terms of those named changed; None where one is missing."""
    there = {step.name for step in steps}
    wanted = [name.rstrip("?") for name in names if name.rstrip("?") in there or not name.endswith("?")]
    if not there.issuperset(wanted):
        return None
    return tuple(with_terms(step, change([*step.terms])) if step.name in wanted else step for step in steps)


def each_term(steps: Steps, patterns: Sequence[str], change: Callable[[str, str], Terms]) -> Steps | None:
    """Return the steps with every term that matches a pattern changed; None where one matches nothing."""
    names = {name for step in steps for _, name in step.terms}
    if not all(any(fnmatchcase(name, pattern) for name in names) for pattern in patterns):
        return None

    def changed(terms: Terms) -> Terms:
        kept = terms[:1]
        for sign, name in terms[1:]:
            hit = any(fnmatchcase(name, pattern) for pattern in patterns)
            kept += change(sign, name) if hit else [(sign, name)]
        return kept

    return tuple(with_terms(step, changed([*step.terms])) for step in steps)


def skip(steps: Steps, names: Sequence[str], term: int = 0) -> Steps | None:
    """Leave steps out: what follows goes on from their first term, or, of a difference, from its second."""
    for name in names:
        step = next((step for step in steps if step.name == name.rstrip("?")), None)
        if step is not None:
            instead = {step.name: step.terms[term][1]}
            steps = renamed(tuple(each for each in steps if each is not step), instead)
        elif not name.endswith("?"):
            return None
    return steps


def renamed(steps: Steps, instead: Mapping[str, str]) -> Steps:
    """Return the steps with other names in the place of some."""
    return tuple(with_terms(step, [(sign, instead.get(name, name)) for sign, name in step.terms]) for step in steps)


def invert(steps: Steps, names: Sequence[str]) -> Steps | None:
    """Multiply where steps divide, and divide where they multiply."""
    return each_named(steps, names, lambda terms: [terms[0], *((OTHER_WAY[sign], name) for sign, name in terms[1:])])


def only(steps: Steps, signs: Mapping[str, str]) -> Steps | None:
    """Keep nothing of a step but what is multiplied by, or what is divided by."""
    ((name, kept),) = signs.items()
    return each_named(steps, [name], lambda terms: [terms[0], *(term for term in terms[1:] if term[0] == kept)])


def twice(steps: Steps, names: Sequence[str]) -> Steps | None:
    """Do steps twice over."""
    return each_named(steps, names, lambda terms: [*terms, *terms[1:]])


def again(steps: Steps, instead: Mapping[str, str]) -> Steps | None:
    """Where a step multiplies by the same more than once, leave that out ("") or put what it is made of ("before")."""
    ((name, how),) = instead.items()
    before = {step.name: step.terms[0][1] for step in steps}

    def changed(terms: Terms) -> Terms:
        kept: Terms = []
        for term in terms:
            kept += [term] if term not in kept else [(term[0], before[term[1]])] if how else []
        return kept

    return each_named(steps, [name], changed)


def turn(steps: Steps, names: Sequence[str]) -> Steps | None:
    """Turn a quotient or a difference round: the second term comes first."""
    if any(len(step.terms) < 2 or step.terms[1][0] == "×" for step in steps if step.name in names):
        return None
    return each_named(steps, names, lambda terms: [terms[1], (terms[1][0], terms[0][1]), *terms[2:]])


def add(steps: Steps, names: Sequence[str]) -> Steps | None:
    """Add where steps take something off."""
    return each_named(steps, names, lambda terms: [("+" if sign == "−" else sign, name) for sign, name in terms])


def leave_out(steps: Steps, patterns: Sequence[str]) -> Steps | None:
    """Leave terms out."""
    return each_term(steps, patterns, lambda sign, name: [])


def flip(steps: Steps, patterns: Sequence[str]) -> Steps | None:
    """Divide by terms that should be multiplied by, and the other way round."""
    return each_term(steps, patterns, lambda sign, name: [(OTHER_WAY[sign], name)])


def put(steps: Steps, instead: Mapping[str, str]) -> Steps | None:
    """Put inputs in the place of others."""
    names = {name for step in steps for _, name in step.terms}
    found = {name: new for old, new in instead.items() for name in names if fnmatchcase(name, old)}
    complete = all(any(fnmatchcase(name, old) for name in names) for old in instead)
    return renamed(steps, found) if complete else None


def less(steps: Steps, what: Mapping[str, str]) -> Steps | None:
    """Take a second input off a first wherever the first stands."""
    names = {name for step in steps for _, name in step.terms}
    (pair,) = what.items()
    found = [next((name for name in names if fnmatchcase(name, pattern)), None) for pattern in pair]
    if found[0] is None or found[1] is None:
        return None
    rest = Step("less", "what was added", "", f"{found[0]} − {found[1]}", "cm3")
    return (rest, *renamed(steps, {found[0]: rest.name}))


def later(steps: Steps, what: Mapping[str, str]) -> Steps | None:
    """Do a step after another one instead of before."""
    ((name, after),) = what.items()
    step = next((step for step in steps if step.name == name), None)
    if step is None or after not in {each.name for each in steps}:
        return None
    rest = skip(steps, [name]) or ()
    place = next(i for i, each in enumerate(rest, start=1) if each.name == after)
    (moved,) = renamed((step,), {step.terms[0][1]: after})
    return (*rest[:place], moved, *renamed(rest[place:], {after: name}))


def amounts(steps: Steps, more: str) -> Steps | None:
    """Go on from every amount that was measured out, as by "× 1000"."""
    names = {step.name for step in steps if step.unit != "cm3"}
    measured = [step for step in steps if step.unit == "mol" and not names & {name for _, name in step.terms}]
    return tuple(step._replace(do=f"{step.do} {more}") if step in measured else step for step in steps)


def further(steps: Steps, what: Mapping[str, str]) -> Steps | None:
    """Go on from a step before the next one, as by "× 1000"."""
    ((name, more),) = what.items()
    sign, number = more.split()
    return each_named(steps, [name], lambda terms: [*terms, (sign, number)])


def whole(steps: Steps, unit: str) -> Steps | None:
    """Leave out the × 1000 of the last step, which turns grams into the `unit` that its unit begins with ("mg")."""
    last = steps[-1]
    if not last.unit.startswith(unit):
        return None
    return each_named(steps, [last.name], lambda terms: [term for term in terms if term != ("×", "1000")])


def then(steps: Steps, do: str) -> Steps | None:
    """Go on from the result."""
    last = steps[-1]
    names = {name for step in steps for _, name in step.terms}
    words = [next((name for name in names if fnmatchcase(name, word)), word) for word in do.split()]
    if any("*" in word for word in words):
        return None
    return (*steps, Step("result", "result", "", " ".join((last.name, *words)), last.unit))


def stop(steps: Steps, name: str) -> Steps | None:
    """Stop at a step."""
    place = next((i for i, step in enumerate(steps, start=1) if step.name == name), None)
    return None if place is None else steps[:place]


VERBS: Mapping[str, Callable[[Steps, Any], Steps | None]] = {
    "skip": skip, "second": partial(skip, term=1), "invert": invert, "only": only, "twice": twice, "again": again,
    "turn": turn, "add": add, "leave_out": leave_out, "flip": flip, "replace": put, "less": less, "later": later,
    "amounts": amounts, "further": further, "whole": whole, "then": then, "stop": stop,
}  # fmt: skip
"""Verb of `slips.toml` -> what it does."""
