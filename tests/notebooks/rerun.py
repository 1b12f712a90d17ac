"""Run notebooks from top to bottom and store them with what they show.

python tests/notebooks/rerun.py            all of them
python tests/notebooks/rerun.py 06 07      those whose names begin so
"""

from __future__ import annotations

import sys
from pathlib import Path

import nbformat
from nbclient import NotebookClient

FOLDER = Path(__file__).parents[2] / "notebooks"


def rerun(path: Path) -> None:
    """Run a notebook in its own folder and write it back, cells and their names as they were."""
    notebook = nbformat.read(path, as_version=4)
    plain = dict(notebook.metadata)
    where = {"metadata": {"path": str(path.parent)}}
    client = NotebookClient(
        notebook, timeout=600, kernel_name="python3", resources=where, coalesce_streams=True
    )
    client.execute()
    code = [cell for cell in notebook.cells if cell.cell_type == "code"]
    for number, cell in enumerate(code, start=1):
        cell.execution_count = number
        cell.metadata.pop("execution", None)  # times of this run
        for output in cell.outputs:
            if output.output_type == "execute_result":
                output.execution_count = number
    notebook.metadata = nbformat.from_dict(plain)
    path.write_text(nbformat.writes(notebook) + "\n", encoding="utf-8")


if __name__ == "__main__":
    for each in sorted(FOLDER.glob("*.ipynb")):
        if len(sys.argv) == 1 or each.name.startswith(tuple(sys.argv[1:])):
            rerun(each)
            print(each.name)
