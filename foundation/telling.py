"""How records of one kind are told in their history: what each kind hands to the one who tells it."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True)
class Telling:
    """What a reader is told of records of one kind, or of parts that belong to a record.

    `name` is what one of them is called, filled from its journaled state; `noun` stands before it where the kind is not
    plain. For parts the state has the names of what it points to: "{person}" is a person's name.
    `verbs` and `fields` hold words for journal verbs and fields whose own name says too little; `values` words for the
    values of fields without choices. `silent` fields say nothing to a reader.
    `same` names the field by which a part is known again in the next state, whatever its key became.
    `line` tells a whole part in one line, from its state with names for keys, words for choices and local times;
    without it a part is told field by field.
    """

    name: str = ""
    noun: str = ""
    verbs: Mapping[str, str] = field(default_factory=dict)
    fields: Mapping[str, str] = field(default_factory=dict)
    values: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    silent: frozenset[str] = frozenset()
    same: str = "id"
    line: Callable[[Mapping[str, Any]], str] | None = None

    def called(self, state: Mapping[str, Any]) -> str:
        """The name of one of them; empty when its state does not say."""
        try:
            return self.name.format_map(state).strip()
        except (KeyError, ValueError, TypeError):
            return ""

    def titled(self, state: Mapping[str, Any]) -> str:
        """The name behind its noun, as a heading has it; empty when its state does not say."""
        name = self.called(state)
        return f"{self.noun} {name}".strip() if name else ""
