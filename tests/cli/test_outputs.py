"""What a command writes: never over what it reads, looked at before the work, whole or not at all.

Expected exit codes and promises come from the design of the interface.
"""

from __future__ import annotations

import errno
import os
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any, NoReturn

import pytest

from econ.cli.exits import UnfinishedError
from econ.cli.files import FORGOTTEN, write_files
from econ.reports.figures import FIGURES

from .command import econ, ok, refused, scenario, write

POSIX = pytest.mark.skipif(os.name != "posix", reason="links and devices of another system")
LOG = "run,start,end,outcome\n1,2026-03-14T06:00,2026-03-15T06:00,nothing\n"
JOBS = "job,run,kind,outcome\n" + "".join(
    f"J{n},1,overshot,{'recovered' if n % 2 else 'nothing'}\n" for n in range(30)
)


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The current folder, with a file of every sort that a command reads."""
    monkeypatch.chdir(tmp_path)
    text = scenario(runs=2).replace("[job]", "[job]\ndecided_at = 2026-03-14T06:00:00")
    write(tmp_path / "job.toml", text)
    write(tmp_path / "runs.csv", LOG)
    write(tmp_path / "codes.csv", "ours,theirs,description\nST10,7100,own\n")
    write(tmp_path / "jobs.csv", JOBS)
    return tmp_path


def contents(folder: Path) -> dict[str, bytes]:
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file()
    }


# ---- an output never replaces an input --------------------------------------------------------

OVER = [
    ("page job.toml --log runs.html --out runs.html", "runs.html"),
    ("memo job.toml --log runs.html --out runs.html", "runs.html"),
    ("afe job.toml --log runs.csv --out runs.csv", "runs.csv"),
    ("afe job.toml --codes codes.csv --out new.xlsx --out codes.csv", "codes.csv"),
    ("plan job.toml --log runs.svg --out runs.svg", "runs.svg"),
    ("odds --for job.toml --out job.toml jobs.csv", "job.toml"),
    ("odds jobs.toml --out jobs.toml", "jobs.toml"),
    ("odds jobs.csv --for odd.toml --out odds.toml", "odds.toml"),
    ("odds out/odds.csv --tables out", "odds.csv"),
    ("odds jobs.svg --figure jobs.svg", "jobs.svg"),
    ("figures job.toml --log out/curve.csv --out out", "curve.csv"),
    ("report job.toml --log out/figures/curve.csv --out out", "curve.csv"),
    ("report job.toml --codes out/supplement.csv --out out", "supplement.csv"),
    ("sweep job.toml grid.csv --out grid.csv", "grid.csv"),
    ("sweep job.toml grid.csv --out job.toml", "job.toml"),
    ("sweep odd.toml grid.csv --out odds.toml", "odds.toml"),
]


@pytest.fixture
def more(folder: Path) -> Path:
    """The same folder, with inputs under the names of outputs."""
    ok("odds", "jobs.csv", "--out", "odds.toml")
    text = (folder / "job.toml").read_text("utf-8")
    write(
        folder / "odd.toml",
        'odds_from = "odds.toml"\n' + text.replace("hours", 'kind = "overshot"\nhours', 1),
    )
    write(folder / "grid.csv", "rates.rig\n1000\n")
    (folder / "out" / "figures").mkdir(parents=True)
    for name in ("runs.html", "runs.svg", "out/curve.csv", "out/figures/curve.csv"):
        write(folder / name, LOG)
    write(folder / "out/supplement.csv", (folder / "codes.csv").read_text("utf-8"))
    for name in ("jobs.toml", "jobs.svg", "out/odds.csv"):
        write(folder / name, JOBS)
    return folder


@pytest.mark.parametrize(("line", "name"), OVER)
def test_what_is_read_is_not_written(more: Path, line: str, name: str) -> None:
    before = contents(more)
    said = refused(*line.split())
    assert name in said
    assert "that is read" in said
    assert "give another name" in said
    assert len(said.splitlines()) == 2  # what to do, and that nothing was done
    assert contents(more) == before


def other_spelling(folder: Path) -> str:
    (folder / "below").mkdir()
    return "below/../runs.csv"


def hard_link(folder: Path) -> str:
    os.link(folder / "runs.csv", folder / "hard.csv")
    return "hard.csv"


def symbolic_link(folder: Path) -> str:
    (folder / "soft.csv").symlink_to("runs.csv")
    return "soft.csv"


def linked_folder(folder: Path) -> str:
    (folder / "here").symlink_to(folder)
    return "here/runs.csv"


@POSIX
@pytest.mark.parametrize("way", [other_spelling, hard_link, symbolic_link, linked_folder])
def test_no_way_leads_over_what_is_read(folder: Path, way: Callable[[Path], str]) -> None:
    target = way(folder)
    assert "the run log that is read" in refused(
        "afe", "job.toml", "--log", "runs.csv", "--out", target
    )
    assert (folder / "runs.csv").read_text("utf-8") == LOG


# ---- looked at before the work ----------------------------------------------------------------

BEFORE = [
    ("page job.toml --out page.htm", "a name that ends in .html"),
    ("page job.toml --out job.toml", "a name that ends in .html"),
    ("odds jobs.csv --out jobs.csv", "a name that ends in .toml"),
    ("odds jobs.csv --figure odds.gif", "a name that ends in .svg, .png"),
    ("memo job.toml --out memo.doc", "a name that ends in .html, .pdf"),
    ("plan job.toml --out plan.jpg", "a name that ends in .pdf, .png, .svg"),
    ("plan job.toml --out none/plan.png", "is not a folder"),
    ("afe job.toml --out a.pdf", "a name that ends in .xlsx, .html, .csv"),
    ("page job.toml --out none/page.html", "is not a folder"),
    ("page job.toml --out job.toml/page.html", "Not a directory"),
    ("memo job.toml --out taken.html", "the name of a file"),
    ("afe job.toml --out good.csv --out taken.html", "the name of a file"),
    ("odds jobs.csv --tables job.toml", "a folder that can be written"),
    ("odds jobs.csv --tables tables", "by_kind.csv there is not a file"),
    ("figures job.toml --out figures", "curve.svg there is not a file"),
    ("report job.toml --out report", "tables there is not a folder"),
    ("new taken.html", "existing"),
    ("new none/job.toml", "is not a folder"),
]


@pytest.mark.parametrize(("line", "says"), BEFORE)
def test_a_place_that_cannot_be_is_refused_before_anything_is_computed(
    folder: Path, monkeypatch: pytest.MonkeyPatch, line: str, says: str
) -> None:
    def computed(*_: object, **__: object) -> NoReturn:
        raise AssertionError("computed")

    for name in ("taken.html", "tables/by_kind.csv", "figures/curve.svg"):
        (folder / name).mkdir(parents=True)
    (folder / "report").mkdir()
    write(folder / "report" / "tables", "a file")
    monkeypatch.setattr("econ.decision.answer", computed)
    monkeypatch.setattr("econ.records.odds", computed)
    monkeypatch.setattr("econ.decision.plan.plan", computed)
    before = sorted(folder.rglob("*"))
    assert says in refused(*line.split())
    assert sorted(folder.rglob("*")) == before


@POSIX
@pytest.mark.parametrize("place", ["fifo.html", "/dev/full"])
def test_what_is_no_file_is_no_place(folder: Path, place: str) -> None:
    os.mkfifo("fifo.html")
    (folder / "full.html").symlink_to("/dev/full")
    target = place if place.endswith(".html") else "full.html"
    assert "the name of a file" in refused("memo", "job.toml", "--out", target)


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may write")
def test_a_folder_without_permission_is_refused(folder: Path) -> None:
    (folder / "closed").mkdir(mode=0o500)
    assert "cannot be written to" in refused("page", "job.toml", "--out", "closed/page.html")


# ---- a set whole or not at all ----------------------------------------------------------------


def broken(number: int, at: Callable[[str, str], bool]) -> Callable[[Any, Any], None]:
    """A move of files that fails where `at` says so."""
    move = os.replace

    def moved(source: Any, target: Any) -> None:
        if at(str(source), str(target)):
            raise OSError(number, os.strerror(number))
        move(source, target)

    return moved


SETS = {"a.txt": b"new a", "below/b.txt": b"new b", "c.txt": b"new c", "below/d.txt": b"new d"}


@pytest.fixture
def there(tmp_path: Path) -> dict[str, bytes]:
    """Three of the four files of a set, as they were, and one of somebody else."""
    (tmp_path / "below").mkdir()
    old = {"a.txt": b"old a", "below/b.txt": b"old b", "c.txt": b"old c", "mine.txt": b"mine"}
    for name, content in old.items():
        (tmp_path / name).write_bytes(content)
    return old


def put(folder: Path) -> None:
    write_files({str(folder / name): content for name, content in SETS.items()})


def test_a_set_takes_the_place_of_what_is_there(tmp_path: Path, there: dict[str, bytes]) -> None:
    put(tmp_path)
    assert contents(tmp_path) == {**SETS, "mine.txt": b"mine"}


MOVES: dict[str, Callable[[str, str], bool]] = {
    "an old one does not move": lambda source, _: source.endswith("c.txt"),
    "a new one does not move": lambda source, target: "new" in source and target.endswith("d.txt"),
    "the first new one": lambda source, target: "new" in source and target.endswith("a.txt"),
}


@pytest.mark.parametrize("where", MOVES)
@pytest.mark.parametrize("number", [errno.EACCES, errno.EPERM, errno.ENOSPC, errno.EXDEV])
def test_a_set_is_as_it_was_where_one_file_cannot_be_replaced(
    tmp_path: Path,
    there: dict[str, bytes],
    monkeypatch: pytest.MonkeyPatch,
    where: str,
    number: int,
) -> None:
    def undone(source: str, target: str) -> bool:
        return MOVES[where](source, target) and "old" not in source.split(os.sep)

    monkeypatch.setattr(os, "replace", broken(number, undone))
    with pytest.raises(UnfinishedError, match="none of the 4 new files is there, no file was"):
        put(tmp_path)
    assert contents(tmp_path) == there
    assert not (tmp_path / "below" / "d.txt").exists()


@pytest.mark.parametrize("call", ["fsync", "chmod", "mkdir"])
def test_a_set_is_as_it_was_on_a_full_disk(
    tmp_path: Path, there: dict[str, bytes], monkeypatch: pytest.MonkeyPatch, call: str
) -> None:
    calls, real = [], getattr(os, call)

    def fills(*given: Any, **more: Any) -> Any:
        calls.append(given)
        if len(calls) == 3:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        return real(*given, **more)

    monkeypatch.setattr(os, call, fills)
    with pytest.raises(UnfinishedError, match=os.strerror(errno.ENOSPC)):
        put(tmp_path)
    assert contents(tmp_path) == there


def test_a_set_is_as_it_was_after_control_c(
    tmp_path: Path, there: dict[str, bytes], monkeypatch: pytest.MonkeyPatch
) -> None:
    move = os.replace

    def stopped(source: Any, target: Any) -> None:
        move(source, target)
        if str(target).endswith("c.txt") and "old" not in str(source).split(os.sep):
            raise KeyboardInterrupt

    monkeypatch.setattr(os, "replace", stopped)
    with pytest.raises(KeyboardInterrupt):
        put(tmp_path)
    assert contents(tmp_path) == there


def test_old_files_that_cannot_be_put_back_are_kept_and_told(
    tmp_path: Path, there: dict[str, bytes], monkeypatch: pytest.MonkeyPatch
) -> None:
    def fails(source: str, target: str) -> bool:
        moving_in = source.endswith(os.path.join("new", "c.txt"))
        return moving_in or source.endswith(os.path.join("old", "a.txt"))

    monkeypatch.setattr(os, "replace", broken(errno.EACCES, fails))
    with pytest.raises(UnfinishedError, match="1 old files could not be put back"):
        put(tmp_path)
    (kept,) = tmp_path.glob(".econ-*.part/old/a.txt")
    assert kept.read_bytes() == b"old a"
    assert (tmp_path / "c.txt").read_bytes() == b"old c"


def test_folders_that_were_made_are_gone_where_nothing_is_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(os, "fsync", _full)
    with pytest.raises(UnfinishedError):
        put(tmp_path / "not" / "there")
    assert list(tmp_path.iterdir()) == []


def _full(_: int) -> NoReturn:
    raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


def test_the_command_says_the_truth_about_its_set(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (folder / "out").mkdir()
    for name in FIGURES:
        for end in ("csv", "png", "svg"):
            write(folder / "out" / f"{name}.{end}", "old")
    before = contents(folder)
    stuck = broken(errno.EACCES, lambda source, _: source.endswith("out/map.png"))
    monkeypatch.setattr(os, "replace", stuck)
    result = econ("figures", "job.toml", "--out", "out", "--size", "page")
    assert result.exit_code == 1
    assert result.stdout == ""
    assert "map.png could not be written or replaced" in result.stderr
    assert "no file was changed" in result.stderr
    assert len(result.stderr.splitlines()) == 1
    assert contents(folder) == before


@pytest.mark.parametrize(
    "line", ["afe job.toml --out a.csv --out a.html", "page job.toml --out a.html"]
)
def test_a_disk_that_fills_up_is_no_bad_input(
    folder: Path, monkeypatch: pytest.MonkeyPatch, line: str
) -> None:
    write(folder / "a.html", "old")
    before = contents(folder)
    monkeypatch.setattr(os, "fsync", _full)
    result = econ(*line.split())
    assert result.exit_code == 1
    assert os.strerror(errno.ENOSPC) in result.stderr
    assert result.stdout == ""
    assert contents(folder) == before


# ---- what a killed process left ---------------------------------------------------------------


def aged(path: Path) -> None:
    long_ago = time.time() - 2 * FORGOTTEN
    os.utime(path, (long_ago, long_ago))


@pytest.mark.parametrize("count", [1, 4])
def test_what_a_killed_process_left_is_put_back_or_removed(tmp_path: Path, count: int) -> None:
    left = tmp_path / ".econ-0a1b2c3_.part"
    (left / "old").mkdir(parents=True)
    (left / "old" / "lost.txt").write_bytes(b"the only one")
    (left / "old" / "mine.txt").write_bytes(b"older")
    (tmp_path / "mine.txt").write_bytes(b"mine")
    single = tmp_path / ".econ-abcdefgh.part"
    single.write_bytes(b"half")
    young = tmp_path / ".econ-00000000.part"
    young.write_bytes(b"at work")
    strange = [tmp_path / name for name in (".econ-.part", ".x.part", "econ-abcdefgh.part")]
    for path in strange:
        path.write_bytes(b"not ours")
    for path in (left, single, *strange):
        aged(path)
    names = list(SETS)[:count]
    write_files({str(tmp_path / name): SETS[name] for name in names})
    assert contents(tmp_path) == {
        **{name: SETS[name] for name in names},
        **{path.name: b"not ours" for path in strange},
        **{"lost.txt": b"the only one", "mine.txt": b"mine", young.name: b"at work"},
    }
    assert not left.exists()
