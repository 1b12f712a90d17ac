"""What every result of the interface can do: become a frame, and print in a line."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, fields, is_dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import pandas

SHOWN = 5  # fields in a line
LONGEST = 60  # characters of one of them


class Framed:
    """Base of the frozen results: `.to_frame()` and a short `repr`.

    A result that is a list of rows names them in `_rows`; any other is a frame of one row, with
    the fields of what it holds in columns such as stage_1.mean. Results inside a tuple have no
    column: they are frames of their own.
    """

    def _rows(self) -> Sequence[Any]:
        return (self,)

    def to_frame(self) -> pandas.DataFrame:
        """The result as a frame, one row for each of its rows."""
        import pandas

        return pandas.json_normalize([_columns(row) for row in self._rows()])

    def __repr__(self) -> str:
        shown = []
        for field in fields(self):  # type: ignore[arg-type]
            value = getattr(self, field.name)
            if is_dataclass(value) or (isinstance(value, tuple) and any(map(is_dataclass, value))):
                continue
            words = f"{value:,.6g}" if isinstance(value, float) else repr(value)
            if len(words) <= LONGEST:
                shown.append(f"{field.name}={words}")
        more = ", ..." if len(shown) > SHOWN else ""
        return f"{type(self).__name__}({', '.join(shown[:SHOWN])}{more})"


def _columns(row: Any) -> dict[str, Any]:
    return {
        name: value
        for name, value in asdict(row).items()
        if not (isinstance(value, tuple) and any(isinstance(item, dict) for item in value))
    }
