"""The table of computations: each with its inputs, what it gives, its rule, and the function that computes it."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from calc.verdict import Rule
from config.computing.inputs import Input

type Given = Mapping[str, Any]
type Results = dict[str, Any]


@dataclass(frozen=True)
class Computation:
    """One computation as `compute` knows it."""

    name: str
    takes: Sequence[Input]
    gives: str
    rule: Rule
    compute: Callable[[Given], Results]

    @property
    def told(self) -> str:
        """Everything a reader needs to use it."""
        takes = ", ".join(one.told for one in self.takes) or "nothing"
        return "\n".join(
            [
                self.name,
                f"  takes   {takes}",
                f"  gives   {self.gives}",
                f"  rule    {self.rule.words}",
                f"  source  {self.rule.source} ({self.rule.provenance})",
                f"  valid   {self.rule.valid}",
                f"  caution {self.rule.caution}",
            ]
        )


COMPUTATIONS: dict[str, Computation] = {}


def computation(
    name: str, rule: Rule, gives: str, *takes: Input
) -> Callable[[Callable[[Given], Results]], Callable[[Given], Results]]:
    """Enter a function in the table."""

    def enter(compute: Callable[[Given], Results]) -> Callable[[Given], Results]:
        COMPUTATIONS[name] = Computation(name, takes, gives, rule, compute)
        return compute

    return enter
