"""A plan as JSON, out and in.

Format version 1. One object, the fields of ``plan.types.Plan`` by name; a tuple is a list,
a record is an object with the fields of its type by name, a day is ``"2026-03-02"``, a
clock time is minutes after midnight, money is cents, and what is absent is ``null``::

    {"file": "rockrota plan", "version": 1, "kitchen": "...", "season": "<fingerprint>",
     "first_day": "...", "last_day": "...", "from_day": "...", "from_minute": 0,
     "days": [{"day": "...", "batches": [{"id": "0302-1", "design": "lemon", "show": "",
               "runs": [{"stage": "pour", "station": "table", "place": 1, "starts": 500,
                         "ends": 520, "crew": [["pourer", "Ana"]]}]}],
               "tasks": [...], "packing": [...], "shifts": [...],
               "missed_shows": [], "proven": true}],
     "lots": [...], "fills": [...], "shortfalls": [...], "stages": [...],
     "rule_of_thumb_weighted": 0, "history": [...], "extras": {}}

Keys are sorted, so that the same plan is the same file. Unknown keys are refused: they
would be lost on the way back.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import fields
from datetime import date
from functools import cache
from pathlib import Path
from types import UnionType
from typing import Any, Literal, Union, get_args, get_origin, get_type_hints

from scheduler.plan.types import FORMAT_VERSION, Plan
from scheduler.season.safe_write import replace_atomically

FILE_MARK = "rockrota plan"
LARGEST_NUMBER = 2**53  # whole numbers that every reader of JSON keeps exactly
LARGEST_FILE = 200 * 1024 * 1024  # bytes; a plan of a year with 12 people is about a tenth


class PlanFaults(Exception):
    """A plan file that can't be read; the message says where, what and what to do."""


def write_plan(plan: Plan, path: Path | str) -> None:
    """Write a plan in one step: the old file stays whole until the new one is read back equal.

    Raises ``season.safe_write.CannotWrite`` with a sentence for a person.
    """
    text = plan_text(plan)

    def check(written: Path) -> None:
        if plan_text(read_plan(written)) != text:
            raise OSError("the plan read back differs from the plan written")

    replace_atomically(path, lambda temporary: _write(temporary, text), check)


def _write(path: Path, text: str) -> None:
    path.write_text(text, encoding="utf-8", errors="surrogatepass", newline="\n")


def plan_text(plan: Plan) -> str:
    """The JSON text of a plan: keys sorted, one record of the outer lists a line."""
    content = {"file": FILE_MARK} | _plain(plan)
    lines = []
    for key in sorted(content):
        value = content[key]
        if isinstance(value, list) and value:
            rows = ",\n".join(f"  {_dump(row)}" for row in value)
            lines.append(f" {_dump(key)}: [\n{rows}\n ]")
        else:
            lines.append(f" {_dump(key)}: {_dump(value)}")
    return "{\n" + ",\n".join(lines) + "\n}\n"


def _dump(value: object) -> str:
    return json.dumps(value, ensure_ascii=False, sort_keys=True, allow_nan=False)


def plan_fingerprint(plan: Plan) -> str:
    """First 16 hex digits of the SHA-256 of a plan's JSON text: equal plans, equal names."""
    return hashlib.sha256(plan_text(plan).encode("utf-8", "surrogatepass")).hexdigest()[:16]


def read_plan(path: Path | str) -> Plan:
    """Read a plan back exactly as it was written. Raises PlanFaults on anything else."""
    source = Path(path)
    try:
        size = source.stat().st_size
        if not source.is_file():
            raise PlanFaults(f"{source} is not a file; name the plan.json of a plan.")
        if size > LARGEST_FILE:
            raise PlanFaults(f"{source} is {size // 2**20} MB; a plan is at most {LARGEST_FILE // 2**20} MB.")
        data = source.read_bytes()
    except FileNotFoundError:
        raise PlanFaults(f"{source} does not exist; name the plan.json of a plan.") from None
    except OSError as error:
        raise PlanFaults(f"{source} can't be read: {error.strerror or error}.") from None
    return plan_from_bytes(data, str(source))


def plan_from_bytes(data: bytes, name: str = "plan.json") -> Plan:
    """A plan from the bytes of its file. Raises PlanFaults."""
    if data[:2] == b"PK":  # a zip file, as every workbook is
        raise PlanFaults(f"{name} is a workbook; name the plan.json that lies beside it, or their folder.")
    try:
        content = json.loads(data.decode("utf-8-sig", "surrogatepass"), parse_constant=_no_constant)
    except (ValueError, RecursionError) as error:
        where = f" (line {error.lineno})" if isinstance(error, json.JSONDecodeError) else ""
        raise PlanFaults(f"{name} is damaged{where}: it is not whole JSON. Use a copy, or plan again.") from None
    if not isinstance(content, dict) or content.pop("file", None) != FILE_MARK:
        raise PlanFaults(f'{name} is no plan of rockrota: it does not begin with "file": "{FILE_MARK}".')
    version = content.get("version")
    if type(version) is not int or version != FORMAT_VERSION:
        raise PlanFaults(
            f"{name} has format version {version!r}; this rockrota reads version {FORMAT_VERSION}. Plan again with it."
        )
    try:
        plan = _build(Plan, content, "plan")
    except _Wrong as wrong:
        raise PlanFaults(f"{name}, {wrong}") from None
    assert isinstance(plan, Plan)
    return plan


def _no_constant(text: str) -> object:
    raise ValueError(f"{text} is not a number")


class _Wrong(Exception):
    """Something of the wrong type at a place in the file."""


def _plain(value: Any) -> Any:
    """A record as plain JSON values."""
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, (tuple, list)):
        return [_plain(v) for v in value]
    if hasattr(value, "__dataclass_fields__"):
        return {f.name: getattr(value, f.name) if f.name == "extras" else _plain(getattr(value, f.name))
                for f in fields(value)}  # fmt: skip
    return value


@cache
def _hints(record: type) -> dict[str, Any]:
    return get_type_hints(record)


def _build(kind: Any, value: Any, where: str) -> Any:
    """A value of a declared type from plain JSON; raises _Wrong with the place."""
    origin = get_origin(kind)
    if hasattr(kind, "__dataclass_fields__"):
        return _record(kind, value, where)
    if origin is tuple:
        return _tuple(get_args(kind), value, where)
    if origin in (Union, UnionType):
        inner = next(a for a in get_args(kind) if a is not type(None))
        return None if value is None else _build(inner, value, where)
    if origin is Literal:
        if value not in get_args(kind):
            raise _Wrong(f"{where}: {value!r} is none of {', '.join(map(str, get_args(kind)))}.")
        return value
    if kind is date:
        return _date(value, where)
    if origin is dict:
        kind = dict
    if type(value) is not kind:  # a bool is no number here, nor 1.0 a whole one
        raise _Wrong(f"{where}: {_short(value)} is not {_WORDS[kind]}.")
    if kind is int and abs(value) > LARGEST_NUMBER:
        raise _Wrong(f"{where}: the number is too large.")
    return value


_WORDS = {int: "a whole number", str: "a text", bool: "true or false", dict: "an object"}


def _record(kind: Any, value: Any, where: str) -> Any:
    if not isinstance(value, dict):
        raise _Wrong(f"{where}: {_short(value)} is not an object.")
    hints = _hints(kind)
    unknown = sorted(value.keys() - hints.keys())
    if unknown:
        raise _Wrong(f"{where}: {unknown[0]!r} is not known in a plan of version {FORMAT_VERSION}.")
    missing = [name for name in hints if name not in value]
    if missing:
        raise _Wrong(f"{where}: {missing[0]!r} is missing.")
    return kind(**{name: _build(hint, value[name], f"{where}.{name}") for name, hint in hints.items()})


def _tuple(inner: tuple[Any, ...], value: Any, where: str) -> tuple[Any, ...]:
    if not isinstance(value, list):
        raise _Wrong(f"{where}: {_short(value)} is not a list.")
    if len(inner) == 2 and inner[1] is Ellipsis:
        return tuple(_build(inner[0], v, f"{where}[{i}]") for i, v in enumerate(value))
    if len(value) != len(inner):
        raise _Wrong(f"{where}: {len(value)} entries instead of {len(inner)}.")
    return tuple(_build(k, v, f"{where}[{i}]") for i, (k, v) in enumerate(zip(inner, value, strict=True)))


def _date(value: Any, where: str) -> date:
    try:
        if isinstance(value, str) and len(value) == 10:
            return date.fromisoformat(value)
    except ValueError:
        pass
    raise _Wrong(f"{where}: {_short(value)} is not a day like 2026-03-02.")


def _short(value: Any) -> str:
    text = repr(value)
    return text if len(text) <= 40 else text[:37] + "..."
