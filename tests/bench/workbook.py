"""How long the workbook of a large job takes, and how large it is; run by hand.

    python tests/bench/workbook.py [LINES]

Plans a slab of LINES x LINES joints, 12 m apart (36 unless stated: some 10,000 splices), and writes its workbook in
both unit systems, in a process of its own each, so that its memory is its own.
"""

import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from splicewright.extract.drawing import Drawing, DrawingKind
from splicewright.extract.finding import Source
from splicewright.extract.line import JointKind, JointLine
from splicewright.extract.network import build_network
from splicewright.extract.unit import LengthUnit
from splicewright.schedule.plan import Schedule, plan
from splicewright.schedule.rules import load_rules
from splicewright.schedule.workbook import write_workbook

BAY_M = 12.0


def lattice(count: int) -> Drawing:
    """Draw a slab of joints in both directions."""
    far = (count - 1) * BAY_M
    courses = [[(0, i * BAY_M, 0), (far, i * BAY_M, 0)] for i in range(count)]
    courses += [[(i * BAY_M, 0, 0), (i * BAY_M, far, 0)] for i in range(count)]
    lines = tuple(
        JointLine(
            source=Source(file="slab.dxf", layer="WATERSTOP", entity=f"LINE {n}"),
            points_m=np.array(course, float),
            joint=JointKind.SLAB,
        )
        for n, course in enumerate(courses)
    )
    return Drawing(
        file="slab.dxf",
        sha256="0" * 64,
        kind=DrawingKind.DXF,
        unit=LengthUnit.METRE,
        lines=lines,
        skipped={},
        selected=len(lines),
    )


def schedule_of(count: int) -> Schedule:
    """Plan the slab."""
    rules = load_rules(None)
    return plan([build_network(lattice(count), rules.limits())], rules, job="slab")


def write(made: Schedule, units: str) -> None:
    """Write one workbook, and say what it took."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "slab.xlsx"
        start, worked = time.perf_counter(), time.process_time()
        write_workbook(made, path, imperial=units == "imperial", map_file="slab.map.html")
        took, worked = time.perf_counter() - start, time.process_time() - worked
        size = path.stat().st_size / 1e6
    print(f"  {units}: {took:.1f} s ({worked:.1f} s of work), {size:.2f} MB")


def main() -> None:
    if len(sys.argv) > 2:
        made = schedule_of(int(sys.argv[1]))
        before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        print(f"{len(made.splices):,} splices, {len(made.nodes):,} nodes, planned with {before:.0f} MiB")
        write(made, sys.argv[2])
        after = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        print(f"  at most {after:.0f} MiB, {after - before:.0f} more than planning took")
        return
    count = sys.argv[1] if len(sys.argv) > 1 else "36"
    for units in ("imperial", "metric"):
        subprocess.run([sys.executable, __file__, count, units], check=True)


if __name__ == "__main__":
    main()
