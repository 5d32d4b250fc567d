"""The computation about credit for tasks."""

from calc import major_portion
from calc.figures import rounded
from calc.trouble import Impossible
from config.computing.inputs import (
    Input,
    a_flag,
    a_key,
    a_list,
    a_map,
    a_record,
    a_text,
    an_object,
    text,
    wrong,
)
from config.computing.registry import Given, Results, computation

COUNTED, AWAY = "counted", "not_applicable"


def a_tenth(value: object, field: str) -> int:
    if isinstance(value, bool) or not isinstance(value, int):
        raise wrong(field, "a whole number of tenths")
    return value


TASK = (
    Input("task_id", a_text),
    Input("status", a_text, f"{COUNTED} or {AWAY}"),
    Input("added_item", a_flag, "true/false", needed=False, default=False),
    Input("tenths", a_map(a_tenth), "tenths by column", needed=False),
    text("note", needed=False),
)


def task(said: Given) -> major_portion.Task:
    """One line of a list as it was given."""
    name, status, tenths = said["task_id"], said["status"], said["tenths"]
    if status not in {COUNTED, AWAY}:
        raise Impossible(f"{name}: the status is {COUNTED} or {AWAY}, not “{status[:40]}”.", "status", "unknown")
    if status == AWAY:
        return major_portion.task(name, None, added=said["added_item"])
    if tenths is None:
        raise Impossible(f"{name} is counted, so its tenths must be said.", "tenths", "missing")
    return major_portion.task(name, tenths, added=said["added_item"])


@computation(
    "major_portion",
    major_portion.SHARE,
    "tasks, tenths by column, builders' share exactly and to one decimal, tasks that are not ten tenths",
    Input("tasks", a_list(a_record(TASK)), "tasks with tenths"),
    Input("attempted_addition", an_object, "task_id and tenths by column", needed=False),
    text("jurisdiction", "such as US", needed=False),
    Input("non_checklist_work", a_list(an_object), "work that is not on the list", needed=False),
)
def of_tasks(given: Given) -> Results:
    tasks = [task(said) for said in given["tasks"]]
    found = major_portion.share(tasks)
    percent = found.percent
    results: Results = {
        "tasks_counted": found.counted,
        "total_points_tenths": found.points,
        "totals_tenths": dict(found.totals),
        "builder_points_tenths": found.builders,
        "non_builder_points_tenths": found.others,
        "builder_percent_exact": None if percent is None else f"{percent.numerator}/{percent.denominator}",
        "builder_percent_1dp": None if percent is None else float(rounded(percent, 1)),
        "more_than_half": found.more_than_half,
        "at_least_51": found.at_least_51,
        "standing": found.standing,
        "no_fabrication": found.without_fabrication,
        "unbalanced_tasks": list(found.unbalanced),
    }
    if given["attempted_addition"] is not None:
        results |= tried(tasks, given["attempted_addition"])
    return results


def tried(tasks: list[major_portion.Task], addition: Given) -> Results:
    """Whether more can be credited to a task, and why not."""
    name = a_key(addition.get("task_id", ""), "attempted_addition.task_id")
    one = next((one for one in tasks if one.name == name), None)
    if one is None:
        raise Impossible(f"There is no task {name}.", "attempted_addition.task_id", "unknown")
    try:
        for column, tenths in addition.items():
            if column != "task_id":
                one = major_portion.more(one, column, a_tenth(tenths, f"attempted_addition.{column}"))
    except Impossible as no:
        if no.code != "impossible":
            raise
        return {"attempted_addition_accepted": False, "reason": no.sentence}
    return {"attempted_addition_accepted": True}
