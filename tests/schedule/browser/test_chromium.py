"""The map in Chromium, opened from disk: it finds, filters, shows and prints, and asks the network for nothing.

Collected only where there is a ``chromium``.
"""

import json
import shutil
import subprocess
from dataclasses import replace
from pathlib import Path

import pytest
from playwright.sync_api import sync_playwright

from splicewright.extract.finding import Finding, Severity, Source
from splicewright.schedule.job import schedule_job
from splicewright.schedule.page import write_page
from splicewright.schedule.plan import plan
from splicewright.schedule.rules import load_rules

BASIN = Path(__file__).parents[3] / "fixtures" / "settling-basin"
# No sandbox, since tests may run as root; the rest keeps the browser itself from calling home.
QUIET = [
    "--no-sandbox",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--enable-unsafe-swiftshader",
]
HOSTILE = "<img src=x onerror=alert(1)></script><script>alert(2)</script>\u202egnp &amp; '\"`${1} 🙂 " + "W" * 400


@pytest.fixture(scope="module")
def browser():
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=shutil.which("chromium"), args=QUIET)
        yield browser
        browser.close()


@pytest.fixture(scope="module")
def basin():
    return schedule_job([BASIN / "settling-basin.dxf"], load_rules(BASIN / "rules.toml"), name="settling-basin")


@pytest.fixture(scope="module")
def large(drawing_of, build, rules):
    """A lattice of some 10,000 splices, far from the origin as survey coordinates are.

    +--+--+
    |  |  |     36 x 36 lines, 12 m apart
    +--+--+
    """
    far, long = (500_000.0, 4_000_000.0), 35 * 12.0
    rows = [[(far[0], far[1] + i * 12), (far[0] + long, far[1] + i * 12)] for i in range(36)]
    columns = [[(far[0] + i * 12, far[1]), (far[0] + i * 12, far[1] + long)] for i in range(36)]
    return plan([build(drawing_of(*rows, *columns, joint="slab"))], rules, job="lattice")


class Watch:
    """A page that is open, and all that it did that it must not."""

    def __init__(self, page):
        self.page, self.requests, self.errors, self.dialogs = page, [], [], []
        page.on("request", lambda request: self.requests.append(request.url))
        page.on("pageerror", lambda error: self.errors.append(str(error)))
        page.on("console", lambda said: self.errors.append(said.text) if said.type == "error" else None)
        page.on("dialog", lambda dialog: (self.dialogs.append(dialog.message), dialog.dismiss()))

    def open(self, path):
        self.page.goto(path.as_uri())
        self.page.wait_for_function("document.body.dataset.ready === 'yes'", timeout=90_000)
        return self

    def drawn(self, act):
        """Do something and wait until the map has been drawn anew."""
        before = self.page.evaluate("Number(document.body.dataset.drawn || 0)")
        act()
        self.page.wait_for_function("n => Number(document.body.dataset.drawn || 0) > n", arg=before, timeout=90_000)

    def find(self, mark):
        self.page.fill("#search", mark)
        self.drawn(lambda: self.page.press("#search", "Enter"))

    def count(self, name):
        """How many marks a trace of the plan holds."""
        return self.page.evaluate(
            "name => planElement.data.filter(t => t.name === name).reduce((n, t) => n + t.x.length, 0)", name
        )

    def centre(self):
        return self.page.evaluate("plan.ranges().map(([low, high]) => (low + high) / 2)")


@pytest.fixture
def opened(browser, tmp_path):
    """Write a schedule's map and open it from disk in a window of its own."""
    contexts = []

    def _open(schedule, *, imperial=False, pictures=None, **window):
        path = tmp_path / "map.html"
        write_page(schedule, path, imperial=imperial, pictures=pictures)
        contexts.append(browser.new_context(**{"viewport": {"width": 1440, "height": 900}, **window}))
        return Watch(contexts[-1].new_page()).open(path)

    yield _open
    for context in contexts:
        context.close()


@pytest.mark.outside(
    what="the map page, opened, turned and searched",
    against="Chromium",
    result="no error, and no request to the network",
)
def test_nothing_is_asked_of_the_network(opened, basin, tmp_path):
    """Opening, both views, a search and a finding make no request but for the page itself, and no error."""
    watch = opened(basin)
    watch.find("S5")
    watch.drawn(lambda: watch.page.click("#to-space"))
    watch.page.click("#tab-findings")
    watch.drawn(lambda: watch.page.click("[data-finding='0']"))

    assert [(tmp_path / "map.html").as_uri()] == watch.requests
    assert [] == watch.errors


def test_a_request_would_be_refused(opened, basin):
    """The page's policy stops a request from its own scripts, even to this machine."""
    watch = opened(basin)
    said = watch.page.evaluate("fetch('http://127.0.0.1:9/').then(() => 'sent', (error) => error.name)")

    assert "TypeError" == said
    assert any("Content Security Policy" in error for error in watch.errors)


def test_a_mark_is_found(opened, basin):
    """Searching a node brings it to the middle and shows its fitting, with legs, cuts and splices."""
    watch = opened(basin)
    node = next(node for node in basin.nodes if node.mark == "N8")
    watch.find("n8")
    watch.page.wait_for_timeout(600)
    text = watch.page.inner_text("#about")

    assert "Node N8" in text
    assert [round(node.at_m[0], 2), round(node.at_m[1], 2)] == [round(value, 2) for value in watch.centre()]
    assert all(word in text for word in ("Fitting F", "Legs", "Miter", "Splices here"))


def test_a_mark_that_does_not_exist_is_told(opened, basin):
    """A mark that there is not is said so."""
    watch = opened(basin)
    watch.page.fill("#search", "Q99")

    assert "No such mark." == watch.page.inner_text("#hits").strip()


@pytest.mark.parametrize(
    ("named", "shown"), [("S7", "Splice S7"), ("F3", "Fitting F3"), ("finding-2", "Finding 2"), ("%E0", "")]
)
def test_an_address_leads_to_what_it_names(opened, basin, tmp_path, named, shown):
    """What stands behind # in the address, as in the workbook's links, is chosen; nonsense does no harm."""
    watch = opened(basin)
    if shown:
        watch.drawn(lambda: watch.page.goto(f"{(tmp_path / 'map.html').as_uri()}#{named}"))
    else:
        watch.page.goto(f"{(tmp_path / 'map.html').as_uri()}#{named}")

    assert shown == watch.page.inner_text("#said")
    assert [] == watch.errors


def test_filters_show_what_was_planned(opened, basin):
    """Choosing a day shows that day's site splices; taking a kind away hides its nodes; as the schedule has them."""
    watch = opened(basin)
    field = [splice for splice in basin.splices if splice.day is not None]
    tees = [node for node in basin.nodes if node.kind.value == "tee"]
    before = watch.count("splice:field"), watch.count("node:tee")
    watch.drawn(lambda: watch.page.uncheck("[data-kind='node:tee']"))
    without = watch.count("node:tee")
    watch.drawn(lambda: watch.page.select_option("#day", "2"))
    second = watch.count("splice:field")
    watch.drawn(lambda: watch.page.check("#up-to"))

    assert (len(field), len(tees)) == before
    assert (0, sum(splice.day == 2 for splice in field)) == (without, second)
    assert sum(splice.day <= 2 for splice in field) == watch.count("splice:field")


def test_a_profile_is_picked_out(opened, basin):
    """Choosing a profile leaves its splices only."""
    watch = opened(basin)
    expected = sum(splice.profile == "narrow-ribbed" for splice in basin.splices if splice.day is not None)
    watch.drawn(lambda: watch.page.select_option("#profile", label="narrow-ribbed"))

    assert expected == watch.count("splice:field")


def test_a_press_shows_what_lies_there(opened, basin):
    """Pressing on the map, with a mouse, shows the run that passes there, with its pieces from rolls."""
    watch = opened(basin)
    x, y = watch.page.evaluate(
        """() => { const [x, y] = middleOf(job.runs.mark.indexOf('R2'));
        const [[west, east], [south, north]] = plan.ranges(); const [across, up] = planSize();
        const frame = planElement.getBoundingClientRect();
        return [frame.left + MARGIN.l + (x - west) / (east - west) * across,
                frame.top + MARGIN.t + (north - y) / (north - south) * up]; }"""
    )
    watch.drawn(lambda: watch.page.mouse.click(x, y))
    text = watch.page.inner_text("#about")

    assert "Run R2" in text
    assert "Pieces from rolls" in text


def test_findings_lead_to_their_place(opened, basin):
    """A finding in the list brings its place to the middle."""
    number, finding = next((i, finding) for i, finding in enumerate(basin.findings) if finding.at_m)
    watch = opened(basin)
    watch.page.click("#tab-findings")
    watch.drawn(lambda: watch.page.click(f"[data-finding='{number}']"))
    watch.page.wait_for_timeout(600)

    assert [round(value, 2) for value in finding.at_m[:2]] == [round(value, 2) for value in watch.centre()]
    assert finding.message in watch.page.inner_text("#findings")


def test_space_shows_the_same(opened, basin):
    """The 3D view holds as many marks as the plan, and searching moves its camera."""
    watch = opened(basin)
    watch.drawn(lambda: watch.page.click("#to-space"))
    counts = watch.page.evaluate(
        "['node:corner', 'splice:field'].map(n => spaceElement.data.find(t => t.name === n).x.length)"
    )
    before = watch.page.evaluate("space.seen().center")
    watch.find("S5")
    watch.page.wait_for_timeout(400)

    assert [watch.count("node:corner"), watch.count("splice:field")] == counts
    assert before != watch.page.evaluate("space.seen().center")


def test_keys_do_it_all(opened, basin):
    """Without a mouse: find, zoom, move, next finding, choose nothing, 3D."""
    watch = opened(basin)
    page = watch.page
    page.keyboard.press("/")
    focused = page.evaluate("document.activeElement.id")
    page.keyboard.type("N6")
    watch.drawn(lambda: page.keyboard.press("Enter"))
    page.wait_for_timeout(600)
    at, wide = watch.centre(), page.evaluate("plan.ranges()[0][1] - plan.ranges()[0][0]")
    page.keyboard.press("+")
    page.wait_for_timeout(200)
    near = page.evaluate("plan.ranges()[0][1] - plan.ranges()[0][0]")
    page.keyboard.press("ArrowRight")
    page.wait_for_timeout(200)
    moved = watch.centre()
    watch.drawn(lambda: page.keyboard.press("n"))
    finding = page.inner_text("#said")
    watch.drawn(lambda: page.keyboard.press("Escape"))
    nothing = page.inner_text("#said")
    watch.drawn(lambda: page.keyboard.press("3"))

    assert "search" == focused
    assert near == pytest.approx(0.7 * wide)
    assert moved[0] > at[0]
    assert ("Finding 1", "") == (finding, nothing)
    assert "space" == page.evaluate("view")


def test_fingers_do_it_too(opened, basin):
    """On a telephone a tap shows a node, two fingers that part zoom in, and kinds can be taken away."""
    watch = opened(basin, viewport={"width": 420, "height": 800}, has_touch=True, is_mobile=True)
    page = watch.page
    wide = page.evaluate("plan.ranges()[0][1] - plan.ranges()[0][0]")
    touch = page.context.new_cdp_session(page)
    places = [[(200, 330), (220, 350)], [(180, 310), (240, 370)], [(140, 270), (280, 410)]]
    for number, points in enumerate(places):
        kind = "touchMove" if number else "touchStart"
        touched = [{"x": x, "y": y, "id": i} for i, (x, y) in enumerate(points)]
        touch.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": touched})
        page.wait_for_timeout(150)
    touch.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
    page.wait_for_timeout(300)
    near = page.evaluate("plan.ranges()[0][1] - plan.ranges()[0][0]")
    watch.drawn(lambda: page.evaluate("choose([{sort: 'node', i: job.nodes.mark.indexOf('N6')}])"))
    page.wait_for_timeout(700)
    watch.drawn(lambda: page.evaluate("choose([])"))
    page.wait_for_timeout(700)
    x, y = page.evaluate(
        "() => { const f = planElement.getBoundingClientRect(); const [a, u] = planSize();"
        "return [f.left + MARGIN.l + a / 2, f.top + MARGIN.t + u / 2]; }"
    )
    watch.drawn(lambda: page.touchscreen.tap(x, y))

    tapped = page.inner_text("#about")
    watch.page.tap("#sift")
    watch.drawn(lambda: watch.page.uncheck("[data-kind='node:tee']"))

    assert near < 0.8 * wide
    assert "Node N6" in tapped
    assert 0 == watch.count("node:tee")
    assert [] == watch.errors


@pytest.mark.parametrize(("imperial", "points"), [(True, "792 x 612"), (False, "841.92 x 594.96")])
def test_it_prints_to_one_sheet(opened, basin, tmp_path, imperial, points):
    """Printed, the map is one sheet of the reader's paper, with the legend, findings, cautions and drawing on it."""
    watch = opened(basin, imperial=imperial)
    watch.page.pdf(path=tmp_path / "map.pdf", prefer_css_page_size=True, print_background=True)
    told = subprocess.run(["pdfinfo", tmp_path / "map.pdf"], check=True, capture_output=True, text=True).stdout
    text = subprocess.run(["pdftotext", tmp_path / "map.pdf", "-"], check=True, capture_output=True, text=True).stdout

    assert "Pages:           1\n" in told
    assert points in told
    for word in ("settling-basin", "site splice", "Open:", "No water on irons", "N20", "SHA-256"):
        assert word in text


def test_hostile_names_are_text(opened, basin):
    """Names full of markup, scripts, turned writing and emoji are shown letter by letter, and run nothing."""
    source = Source(file=HOSTILE, layer=HOSTILE, entity=HOSTILE)
    finding = Finding(
        code="free-end", severity=Severity.ERROR, message=HOSTILE, at_m=(1.0, 2.0, 3.0), sources=(source,)
    )
    run = replace(basin.runs[0], sources=(source,))
    hostile = replace(basin, job=HOSTILE, findings=(finding,), runs=(run, *basin.runs[1:]))
    watch = opened(hostile)
    watch.page.click("#tab-findings")
    watch.drawn(lambda: watch.page.click("[data-finding='0']"))
    listed = watch.page.text_content("#findings bdi")
    watch.find(run.mark)

    assert HOSTILE == listed
    assert HOSTILE in watch.page.text_content("#about")
    assert HOSTILE == watch.page.text_content("#job")
    assert ([], []) == (watch.dialogs, watch.errors)
    assert 0 == watch.page.evaluate("document.querySelectorAll('#job img, #panel img').length")


def test_a_drawing_of_a_fitting_is_a_picture(opened, basin):
    """A fitting's drawing is shown as a picture, so that a script inside it does not run."""
    mark = basin.fittings[0].mark
    picture = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="40" height="20"><script>parent.alert(1)</script>'
        '<rect width="40" height="20"/></svg>'
    )
    watch = opened(basin, pictures={mark: picture})
    watch.find(mark)
    watch.page.wait_for_function("document.querySelector('.picture img').complete")

    assert [40, 20] == watch.page.evaluate(
        "[document.querySelector('.picture img').naturalWidth, document.querySelector('.picture img').naturalHeight]"
    )
    assert ([], []) == (watch.dialogs, watch.errors)


def test_ten_thousand_splices_stay_usable(opened, large, tmp_path):
    """With over 10,000 splices the page stays under 10 MB, in few traces, finds a mark and filters."""
    watch = opened(large)
    last = [splice.mark for splice in large.splices][-1]
    second = sum(splice.day == 2 for splice in large.splices)
    watch.find(last)
    found = watch.page.inner_text("#about h2")
    watch.drawn(lambda: watch.page.select_option("#day", "2"))

    assert 10_000 < len(large.splices)
    assert (tmp_path / "map.html").stat().st_size < 10_000_000
    assert watch.page.evaluate("planElement.data.length") < 30
    assert f"Splice {last}" == found
    assert second == watch.count("splice:field")
    assert [] == watch.errors
    assert "scattergl" in json.dumps(watch.page.evaluate("planElement.data.map(t => t.type)"))
