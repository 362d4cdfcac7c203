"""How long a large drawing takes from file to JSON, against ezdxf's own reading of the file; run by hand.

    python tests/bench/drawing.py [--dense | --extreme]

Prints, for a drawing of some 100,000 LINEs, the time of `ezdxf.readfile` in one fresh process and of the whole job,
file to JSON, in another, their ratio, and the peak memory. The drawing is a lattice of bays of 6 m whose lines are
drawn in short segments: 5 km of waterstop with 441 nodes, which is a very large job. With --dense it is 31 km with
2,601 nodes; with --extreme every segment lies between two crosses, so that there are 50,000 nodes in one fitting.
"""

import argparse
import subprocess
import sys
import tempfile
from pathlib import Path

READ = """
import time
import ezdxf
start = time.perf_counter()
ezdxf.readfile({path!r})
print(time.perf_counter() - start)
"""
JOB = """
import resource, sys, time
start = time.perf_counter()
sys.argv = ["splicewright", "schedule", {path!r}, "--write", "json", "--out", {out!r}]
from splicewright.schedule.cli import main
try:
    main()
except SystemExit as stop:
    assert not stop.code, stop.code
print(time.perf_counter() - start, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)
"""


def draw(path: Path, lines: int, segments: int) -> int:
    import ezdxf

    document = ezdxf.new("R2018", units=6)
    space, bay = document.modelspace(), 6.0
    length = (lines - 1) * bay
    count = (lines - 1) * segments
    step = length / count
    for i in range(lines):
        for j in range(count):
            space.add_line((j * step, i * bay), ((j + 1) * step, i * bay), dxfattribs={"layer": "WATERSTOP"})
            space.add_line((i * bay, j * step), (i * bay, (j + 1) * step), dxfattribs={"layer": "WATERSTOP"})
    document.saveas(path)
    return len(space)


def run(code: str) -> list[float]:
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    return [float(value) for value in done.stdout.split()[-2:]]


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--dense", action="store_const", dest="size", const=(51, 20), default=(21, 120))
    parser.add_argument("--extreme", action="store_const", dest="size", const=(224, 1))
    lines, segments = parser.parse_args().size
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "large.dxf"
        count = draw(path, lines, segments)
        read = min(run(READ.format(path=str(path)))[-1] for _ in range(3))
        job = min(run(JOB.format(path=str(path), out=folder)) for _ in range(3))
    print(f"{count} LINEs, {lines * lines} nodes")
    print(f"ezdxf.readfile {read:.2f} s, file to JSON {job[0]:.2f} s, ratio {job[0] / read:.2f}, peak {job[1]:.0f} MiB")


if __name__ == "__main__":
    main()
