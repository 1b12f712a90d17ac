"""Benchmark of daily reports: python tests/benchmarks/daily.py [--reports 1400]

Writes invented reports of 26 wells with 17 activities a day and a remark each, in 1.4, and reads
them as files, as a zip, and as one file. Processor time on the machine at hand; aim: 1,400 reports
in under 20 s, whole process. Then one file of nearly 100 MB, with the most memory it takes.
"""

from __future__ import annotations

import argparse
import resource
import subprocess
import sys
import tempfile
import time
import zipfile
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

sys.path.append(str(Path(__file__).parents[1]))
from report_writer import START, Did, activities, document, report

WELLS = 26
REMARK = (
    "Continued with 8 1/2 in assembly on 5 in drill pipe, flow 2,200 lpm, 220 bar, 180 rpm, "
    "weight on bit 4 to 8 t, torque 15 to 20 kNm. Flow checked well, well static. No sign of stuck "
    "pipe. Held toolbox talk before the next operation."
)
DAY = [
    Did(2, "trip", f"RIH from 10 m to 1,200 m. {REMARK}", 1200),
    *(Did(1.25, "drill", f"Drilled. {REMARK}", 1200 + 10.0 * n) for n in range(1, 13)),
    Did(2, "circulate", f"Circulated bottoms up. {REMARK}", 1320),
    Did(3, "trip", f"POOH from 1,320 m to surface. {REMARK}", 0),
    Did(2, "other", REMARK),
]
COMMAND = "from econ.cli import main; main(prog_name='econ')"


def day(number: int) -> str:
    """One report: wells one after the other, a day each."""
    start = START + timedelta(days=number // WELLS)
    well = f"Invented {number % WELLS + 1}"
    unlike = [replace(did, text=f"{did.text} Log {number}.{n}.") for n, did in enumerate(DAY)]
    made = activities(unlike, start=start)
    return report([each[2] for each in made], well=well, start=start, shoe=600, hole_size=8.5)


def spent(*arguments: str) -> tuple[float, float]:
    """Seconds on the clock and of a processor that a whole `econ daily` takes."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    begun = time.perf_counter()
    command = [sys.executable, "-c", COMMAND, "daily", *arguments]
    subprocess.run(command, check=True, capture_output=True)
    clock = time.perf_counter() - begun
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    used = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return clock, used


def main() -> None:
    """Print the times."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--reports", type=int, default=1400)
    parser.add_argument("--megabytes", type=int, default=95, help="of the large file; 0: none")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place, "in")
        folder.mkdir()
        texts = [day(number) for number in range(options.reports)]
        for number, text in enumerate(texts):
            (folder / f"{number}.xml").write_text(document([text]), encoding="utf-8")
        packed = Path(place, "all.zip")
        with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
            for file in folder.iterdir():
                archive.write(file, file.name)
        one = Path(place, "one.xml")
        one.write_text(document(texts), encoding="utf-8")
        size = one.stat().st_size / 1e6
        print(f"{options.reports} reports, {len(DAY)} activities a day, {size:.1f} MB")
        for words, path in (("files", folder), ("zip", packed), ("one file", one)):
            clock, used = spent(str(path))
            print(f"  {words:<9} {clock:6.2f} s on the clock, {used:6.2f} s of a processor")
        if options.megabytes:
            many = int(options.megabytes / size * options.reports)
            one.write_text(document([day(number) for number in range(many)]), encoding="utf-8")
            clock, used = spent(str(one))
            peak = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
            print(
                f"  {one.stat().st_size / 1e6:.0f} MB, {many} reports: {clock:.1f} s, {used:.1f} s "
                f"of a processor, {peak:.0f} MiB at most"
            )


if __name__ == "__main__":
    main()
