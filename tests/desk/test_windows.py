"""Streams of windows: the newest of every kind, and an end after the last one has gone."""

from __future__ import annotations

import asyncio
import json
from typing import Any

from econ.desk.windows import Windows


def lines(read: list[bytes]) -> list[dict[str, Any]]:
    return [json.loads(line) for line in read if line.strip()]


def test_a_window_reads_the_newest_of_each_kind() -> None:
    async def work() -> list[bytes]:
        windows = Windows(may_end=lambda: True, end=lambda: None)
        windows.tell({"event": "job", "hash": "1"})
        stream = windows.stream()
        read = [await anext(stream)]
        for number in range(50):
            windows.tell({"event": "answer", "n": number})
        windows.tell({"event": "job", "hash": "2"})
        read += [await anext(stream), await anext(stream)]
        windows.close()
        return read + [line async for line in stream]

    assert lines(asyncio.run(work())) == [
        {"event": "hello"},
        {"event": "answer", "n": 49},
        {"event": "job", "hash": "2"},
    ]


def ends(*, unsaved: list[bool], back: bool = False) -> list[str]:
    """What happens when the last of two windows has gone."""
    happened: list[str] = []

    async def work() -> None:
        windows = Windows(
            may_end=lambda: not unsaved[0], end=lambda: happened.append("end"), linger=0.05
        )
        one, other = windows.stream(), windows.stream()
        await anext(one)
        await anext(other)
        await one.aclose()
        await asyncio.sleep(0.1)
        happened.append("one is open")
        await other.aclose()
        if back:
            again = windows.stream()
            await anext(again)
            await asyncio.sleep(0.1)
            happened.append("one is back")
            windows.close()
            return
        await asyncio.sleep(0.1)
        if unsaved[0]:
            happened.append("kept open")
            unsaved[0] = False
            await asyncio.sleep(1.1)

    asyncio.run(work())
    return happened


def test_the_desk_ends_after_its_last_window() -> None:
    assert ends(unsaved=[False]) == ["one is open", "end"]


def test_a_window_that_comes_back_keeps_it() -> None:
    assert ends(unsaved=[False], back=True) == ["one is open", "one is back"]


def test_it_never_ends_with_something_unsaved() -> None:
    assert ends(unsaved=[True]) == ["one is open", "kept open", "end"]
