"""How long reading takes beside opening: a model of 50,000 elements of which 2,000 are waterstop, whole processes.

    python tests/bench/ifc.py [folder]

The bound is 1.25 times what `ifcopenshell.open` alone takes. It is met because the file is opened lazily: the library
indexes it in one pass, and parses only the instances that the reader asks for.
"""

import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from itertools import count
from pathlib import Path

ELEMENTS, WATERSTOP, ROUNDS, BOUND = 50_000, 2_000, 5, 1.25
CLASSES = ("IFCWALL", "IFCBEAM", "IFCCOLUMN", "IFCMEMBER", "IFCBUILDINGELEMENTPROXY", "IFCSLAB", "IFCFOOTING")
OPEN = "import ifcopenshell; ifcopenshell.open({path!r})"
READ = (
    "from pathlib import Path\n"
    "from splicewright.extract.reader import read\n"
    "from splicewright.extract.selection import Selection\n"
    "assert {lines} == len(read(Path({path!r}), Selection()).lines)"
)
HEAD = (
    "ISO-10303-21;\nHEADER;\nFILE_DESCRIPTION(('ViewDefinition [ReferenceView]'),'2;1');\n"
    "FILE_NAME('large.ifc','2000-01-01T00:00:00',(''),(''),'','','');\nFILE_SCHEMA(('IFC4'));\nENDSEC;\nDATA;\n"
)


class Writer:
    """Writes instances with rising numbers, and GlobalIds with them."""

    def __init__(self) -> None:
        self.lines: list[str] = []
        self.ids = count(1)

    def add(self, text: str) -> str:
        self.lines.append(f"#{len(self.lines) + 1}={text};\n")
        return f"#{len(self.lines)}"

    def guid(self) -> str:
        return f"{next(self.ids):022d}"


def write_model(path: Path) -> None:
    """Write the model: every element placed, swept, and described by two property sets; waterstop with an axis too."""
    to = Writer()
    origin, z = to.add("IFCCARTESIANPOINT((0.,0.,0.))"), to.add("IFCDIRECTION((0.,0.,1.))")
    axes = to.add(f"IFCAXIS2PLACEMENT3D({origin},$,$)")
    unit = to.add(f"IFCUNITASSIGNMENT(({to.add('IFCSIUNIT(*,.LENGTHUNIT.,.MILLI.,.METRE.)')}))")
    context = to.add(f"IFCGEOMETRICREPRESENTATIONCONTEXT($,'Model',3,1.E-5,{axes},$)")
    project = to.add(f"IFCPROJECT('{to.guid()}',$,'Large',$,$,$,$,({context}),{unit})")
    ground = to.add(f"IFCLOCALPLACEMENT($,{axes})")
    storey = to.add(f"IFCBUILDINGSTOREY('{to.guid()}',$,'Base',$,$,{ground},$,$,.ELEMENT.,0.)")
    to.add(f"IFCRELAGGREGATES('{to.guid()}',$,$,$,{project},({storey}))")
    elements = list(_elements(to, context, ground, axes, z))
    to.add(f"IFCRELCONTAINEDINSPATIALSTRUCTURE('{to.guid()}',$,$,$,({','.join(elements)}),{storey})")
    with path.open("w") as file:
        file.writelines((HEAD, *to.lines, "ENDSEC;\nEND-ISO-10303-21;\n"))


def _elements(to: Writer, context: str, ground: str, axes: str, z: str) -> Iterator[str]:
    for number in range(ELEMENTS):
        strip = number % (ELEMENTS // WATERSTOP) == 0
        at = to.add(f"IFCCARTESIANPOINT(({number % 200 * 3000.0},{number // 200 * 3000.0},0.))")
        place = to.add(f"IFCLOCALPLACEMENT({ground},{to.add(f'IFCAXIS2PLACEMENT3D({at},$,$)')})")
        shown = [_axis(to, context)] if strip else []
        middle = to.add(f"IFCAXIS2PLACEMENT2D({to.add('IFCCARTESIANPOINT((0.,0.))')},$)")
        section = to.add(f"IFCRECTANGLEPROFILEDEF(.AREA.,$,{middle},230.,10.)")
        solid = to.add(f"IFCEXTRUDEDAREASOLID({section},{axes},{z},3000.)")
        shown.append(to.add(f"IFCSHAPEREPRESENTATION({context},'Body','SweptSolid',({solid}))"))
        shape = to.add(f"IFCPRODUCTDEFINITIONSHAPE($,$,({','.join(shown)}))")
        kind = "IFCDISCRETEACCESSORY" if strip else CLASSES[number % len(CLASSES)]
        name = f"Waterstop {number}" if strip else f"Element {number}"
        element = to.add(f"{kind}('{to.guid()}',$,'{name}',$,$,{place},{shape},'{number}',$)")
        for held in ("Pset_Common", "Identity"):
            values = ",".join(
                to.add(f"IFCPROPERTYSINGLEVALUE('{held} {i}',$,IFCLABEL('{number} {i}'),$)") for i in range(3)
            )
            properties = to.add(f"IFCPROPERTYSET('{to.guid()}',$,'{held}',$,({values}))")
            to.add(f"IFCRELDEFINESBYPROPERTIES('{to.guid()}',$,$,$,({element}),{properties})")
        yield element


def _axis(to: Writer, context: str) -> str:
    ends = ",".join(to.add(f"IFCCARTESIANPOINT((0.,0.,{z}))") for z in ("0.", "3000."))
    return to.add(f"IFCSHAPEREPRESENTATION({context},'Axis','Curve3D',({to.add(f'IFCPOLYLINE(({ends}))')}))")


def seconds(code: str) -> float:
    """Run one process and return how long it took."""
    start = time.perf_counter()
    subprocess.run([sys.executable, "-c", code], check=True)
    return time.perf_counter() - start


def main(folder: Path) -> int:
    """Time both processes in turn, and tell the best of each and their ratio; 1 where the bound is missed."""
    path = folder / "large.ifc"
    write_model(path)
    print(f"{path.name}: {path.stat().st_size / 1e6:.0f} MB, {ELEMENTS} elements, {WATERSTOP} of them waterstop")
    codes = (OPEN.format(path=str(path)), READ.format(path=str(path), lines=WATERSTOP))
    opened, read = (
        min(times) for times in zip(*([seconds(code) for code in codes] for _ in range(ROUNDS)), strict=True)
    )
    print(f"ifcopenshell.open {opened:.2f} s, read {read:.2f} s: {read / opened:.2f} times, at most {BOUND} wanted")
    return int(read > BOUND * opened)


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as temporary:
        sys.exit(main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(temporary)))
