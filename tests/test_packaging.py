"""The package as it is installed: the script, the type marker, the data that must come along."""

import re
import subprocess
import sys
import tomllib
from importlib.metadata import distribution, entry_points
from importlib.resources import files
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
SHIPPED = [
    (folder, path.name)
    for folder in ("extract", "schedule")
    for path in sorted((ROOT / folder).iterdir())
    if path.suffix not in {".py", ""}
]


def run(*arguments: str, code: str = "") -> subprocess.CompletedProcess[str]:
    start = code or "import sys; from splicewright.schedule.cli import main; sys.argv[0] = 'splicewright'; main()"
    return subprocess.run([sys.executable, "-c", start, *arguments], capture_output=True, text=True, check=False)


def test_the_script_leads_to_the_command_line():
    """The installed `splicewright` script calls the command line's `main`."""
    (script,) = entry_points(group="console_scripts", name="splicewright")

    assert "splicewright.schedule.cli:main" == script.value


def test_version_is_the_distributions():
    """`splicewright --version` names the version that is installed, which is the one in the project file."""
    said = run("--version")

    assert (0, f"splicewright {PROJECT['project']['version']}\n", "") == (said.returncode, said.stdout, said.stderr)
    assert PROJECT["project"]["version"] == distribution("splicewright").version


@pytest.mark.parametrize("command", [[], ["--help"], ["schedule", "--help"], ["--version"]])
def test_help_loads_nothing_heavy(command):
    """Help comes at once, since it loads neither readers nor numerics nor writers (typer itself may load pydantic)."""
    heavy = {"ezdxf", "ifcopenshell", "networkx", "numpy", "openpyxl", "orjson", "plotly", "reportlab"}
    heavy |= {"rich", "scipy", "shapely"}
    code = (
        "import sys; from splicewright.schedule.cli import run; status = run(sys.argv[1:]);"
        "print('LOADED', *sorted({name.partition('.')[0] for name in sys.modules})); sys.exit(status)"
    )
    said = run(*command, code=code)
    loaded = set(said.stdout.rpartition("LOADED")[2].split())

    assert "typer" in loaded
    assert set() == heavy & loaded


def test_the_collector_rests_in_the_one_shot_process():
    """The script switches the garbage collector off, and only the script does: `run` leaves a caller's alone."""
    code = (
        "import gc, sys; from splicewright.schedule import cli; cli.run(['--version']); before = gc.isenabled();"
        "sys.argv[1:] = ['--version']\ntry:\n    cli.main()\nexcept SystemExit:\n    print(before, gc.isenabled())"
    )

    assert "True False" == run(code=code).stdout.splitlines()[-1]


@pytest.mark.parametrize(("folder", "name"), SHIPPED)
def test_data_is_shipped(folder, name):
    """Every data file beside the modules can be read from the installed package and matches what is packed."""
    packed = PROJECT["tool"]["setuptools"]["package-data"]["*"]

    assert any(Path(name).match(pattern) for pattern in packed)
    assert (ROOT / folder / name).read_bytes() == files(f"splicewright.{folder}").joinpath(name).read_bytes()


@pytest.mark.parametrize("folder", ["extract", "schedule"])
def test_types_are_shipped(folder):
    """Each package says that it is typed."""
    assert files(f"splicewright.{folder}").joinpath("py.typed").is_file()


def test_folders_and_packages_agree():
    """Each package is one of the two top-level folders."""
    setup = PROJECT["tool"]["setuptools"]

    assert {name: name.rpartition(".")[2] for name in setup["packages"]} == setup["package-dir"]


def test_least_versions_are_met():
    """Each library in use is at least the version that the project file asks for."""
    for line in PROJECT["project"]["dependencies"]:
        name, _, least = line.partition(">=")
        found = re.match(r"[\d.]+", distribution(name).version)
        assert found is not None
        assert [int(part) for part in least.split(".")] <= [int(part) for part in found[0].rstrip(".").split(".")]
