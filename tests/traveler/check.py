"""Looks at travelers in a real browser.

usage: check.py PROGRAM [AXE_SCRIPT] [--pictures FOLDER]

Makes pages with PROGRAM and opens them from disk: nothing is asked of any network, nothing goes wrong in the
console, every plot is there with its values in words and in a table, it is whole without scripts, values follow
pointer and keys, findings are filtered, it fits a telephone, and printed on A4 and Letter it has lost nothing.
AXE_SCRIPT is the accessibility checker axe-core of the npm registry; pypdf reads what is printed. Says `skipped`
where there is no browser.
"""

import base64
import io
import json
import pathlib
import subprocess
import sys
import tempfile
import time
import unicodedata

import browser

HERE = pathlib.Path(__file__).resolve().parent
TOP = HERE.parent.parent
PLOTS = ("hotend", "bed", "chamber", "fan", "flow", "layer-time")
SECTIONS = (
    "verdict change prepare job plots plans findings rework strength concessions not-held cautions sign-off values words"
).split()
WIDTHS = (360, 820, 1280)
EVIL = "<script>document.title='taken'</script>\"'><img src=x onerror=alert(1)>\u202egnp\x07"


def jobs(folder):
    """Jobs with the options of their pages."""
    demo = (TOP / "corpus/demo/bracket.gcode").read_text()
    evil = pathlib.Path(folder) / "evil <b>&'\".gcode"
    evil.write_text(f"; {EVIL}\n; material: {EVIL}\nSTART A=\"{EVIL}\"\n{demo}\nM117 {'<i>' * 100000}\n")
    tower = "corpus/conforming/pla-pval-prime-tower.gcode"
    tall = "corpus/conforming/asa-no-comments.gcode"
    return [
        ("demo", "corpus/demo/bracket.gcode", ["-m", "PA6-CF", "-M", "open-lined", "--section"]),
        ("reworked", "corpus/demo/bracket.gcode", ["-m", "PA6-CF", "-M", "closed-hardened"]),
        ("evil", str(evil), ["-m", "PA6-CF", "-M", "closed-hardened", "--walls"]),
        ("two-tools", tower, ["-m", "0=PLA,1=PVAL", "-M", "two-tools"]),
        ("released", tall, ["-m", "ASA", "-M", "closed-hardened"]),
    ]


def assert_quiet(name, events, url):
    """Nothing was asked of a network, and nothing went wrong."""
    for event in events:
        method, params = event.get("method"), event.get("params", {})
        if method == "Network.requestWillBeSent":
            assert params["request"]["url"] == url, (name, params["request"]["url"])
        assert method != "Runtime.exceptionThrown", (name, params)
        if method == "Runtime.consoleAPICalled":
            raise AssertionError((name, params["args"]))
        if method == "Log.entryAdded":
            raise AssertionError((name, params["entry"]["text"]))


def assert_whole(name, page):
    """Every section and plot is there; values stand in words and in a table."""
    for section in SECTIONS:
        assert page.run(f"document.getElementById('{section}').textContent.trim().length") > 20, (name, section)
    for plot in PLOTS:
        told = page.run(f"""(() => {{
            const figure = document.getElementById('{plot}');
            const table = document.getElementById(figure.dataset.table);
            return {{ none: figure.classList.contains('none'), says: figure.querySelector('figcaption').textContent,
                paths: figure.querySelectorAll('.plot path').length, rows: table ? table.tBodies[0].rows.length : 0,
                wide: figure.querySelector('.plot')?.getBoundingClientRect().width ?? 0 }};
        }})()""")
        if told["none"]:
            assert "Not drawn: " in told["says"], (name, plot, told)
        else:
            assert told["paths"] and told["rows"] and told["wide"] > 150, (name, plot, told)
            assert "at most" in told["says"] or "throughout" in told["says"], (name, plot, told)
    views = page.run("document.querySelectorAll('.view > svg').length")
    legends = page.run("document.querySelectorAll('.view .legend li').length")
    assert views >= 1 and legends >= views, (name, views, legends)
    assert page.run("document.title") != "taken"
    assert page.run("document.querySelectorAll('script').length") == 1, name
    assert page.run("document.querySelectorAll('img, link, iframe, object, form').length") == 0, name


def assert_reacts(name, page):
    """Pointer and keys tell values that stand in the table; the filter keeps what fits."""
    plot = "document.querySelector('#flow .plot')"
    place = page.run(f"(() => {{ {plot}.scrollIntoView(); const b = {plot}.getBoundingClientRect(); return [b.x + b.width / 2, b.y + 40]; }})()")
    page.call("Input.dispatchMouseEvent", type="mouseMoved", x=place[0], y=place[1])
    said = page.run("document.querySelector('#flow output').textContent")
    cell = page.run("""[...document.querySelectorAll('#values-over-height tbody tr')].some(row =>
        document.querySelector('#flow output').textContent.endsWith(' ' + row.cells[4].textContent))""")
    assert cell and "flow over a second" in said, (name, said)
    page.run("document.querySelector('#hotend-reader').focus()")
    page.call("Input.dispatchKeyEvent", type="keyDown", key="End", code="End", windowsVirtualKeyCode=35)
    said = page.run("document.querySelector('#hotend output').textContent")
    last = page.run("[...document.querySelectorAll('#values-over-time tbody tr')].at(-1).cells[0].textContent")
    assert said.startswith(f"minutes {last}; hotend modelled"), (name, said, last)
    count = page.run("document.querySelectorAll('.finding').length")
    if count >= 2:
        page.run("""(() => { const words = document.getElementById('filter-words');
            words.value = document.querySelector('.finding h3').lastChild.textContent.trim();
            words.dispatchEvent(new Event('input')); })()""")
        shown = page.run("[...document.querySelectorAll('.finding')].filter(one => one.offsetHeight > 0).length")
        assert 1 <= shown < count or count == 1, (name, shown, count)
        page.run("""(() => { const words = document.getElementById('filter-words');
            words.value = ''; words.dispatchEvent(new Event('input')); })()""")


def plain(text):
    """Without spaces, ligatures and what a font may lack: what is read back from paper has them otherwise."""
    text = unicodedata.normalize("NFKC", text)
    return "".join(letter for letter in text if letter.isascii() and not letter.isspace())


def assert_printed(name, page):
    """On A4 and on Letter the paper has every section, every finding and the last column of every table."""
    from pypdf import PdfReader

    wanted = page.run("""[...document.querySelectorAll('h1, h2, h3, th, dt, .finding .message, figcaption li')]
        .filter(one => !one.closest('.reader, .tools'))
        .map(one => one.textContent)""")
    for size, width, height in (("A4", 8.27, 11.69), ("Letter", 8.5, 11)):
        printed = page.call("Page.printToPDF", paperWidth=width, paperHeight=height, printBackground=True)
        paper = PdfReader(io.BytesIO(base64.b64decode(printed["data"])))
        read = plain("".join(sheet.extract_text() for sheet in paper.pages))
        for words in wanted:
            assert plain(words) in read, (name, size, words)
    return len(paper.pages)


def assert_accessible(name, page, axe):
    """The checker finds nothing against WCAG 2.2, levels A and AA."""
    page.run(axe + "; 0")
    found = page.run("""axe.run(document, { runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'] })
        .then(said => ({ passes: said.passes.length, faults: said.violations.map(one =>
            one.id + ': ' + one.nodes.slice(0, 3).map(node => node.html.slice(0, 160) + ' ' + node.failureSummary).join(' | ')) }))""")
    assert found["passes"] > 15, found
    assert not found["faults"], (name, found["faults"])


def main():
    program = str(pathlib.Path(sys.argv[1]).resolve())
    rest = sys.argv[2:]
    pictures = None
    if "--pictures" in rest:
        at = rest.index("--pictures")
        pictures = pathlib.Path(rest[at + 1])
        pictures.mkdir(parents=True, exist_ok=True)
        del rest[at : at + 2]
    axe = pathlib.Path(rest[0]).read_text(encoding="utf-8") if rest else None
    chromium = browser.found()
    if not chromium:
        print("traveler: skipped, there is no Chromium on this machine (Debian's package chromium)")
        return
    page = browser.Browser(chromium)
    try:
        with tempfile.TemporaryDirectory() as folder:
            checked = 0
            for name, job, options in jobs(folder):
                file = pathlib.Path(folder) / f"{name}.html"
                call = [program, "traveler", job, *options, "-o", str(file)]
                code = subprocess.run(call, cwd=TOP, capture_output=True).returncode
                assert code in (0, 1), (name, code)
                size = file.stat().st_size
                assert size < 1_000_000, (name, size)
                url = file.as_uri()
                # Without scripts it is whole.
                page.window(1280)
                page.call("Emulation.setScriptExecutionDisabled", value=True)
                events = page.open(url, drawn=False)
                assert_quiet(name, events, url)
                page.call("Emulation.setScriptExecutionDisabled", value=False)
                assert page.run("document.querySelector('.reader')") is None
                assert_whole(name, page)
                begun = time.monotonic()
                events = page.open(url)
                took = time.monotonic() - begun
                assert_whole(name, page)
                assert_reacts(name, page)
                sheets = assert_printed(name, page)
                for dark in (False, True):
                    for width in WIDTHS:
                        page.window(width, dark=dark)
                        beyond = page.run("document.documentElement.scrollWidth - innerWidth")
                        assert beyond <= 0, f"{name}: {beyond} px beyond a width of {width}"
                        if axe and width != 820:
                            assert_accessible(f"{name}, {width}, dark {dark}", page, axe)
                        if pictures:
                            shot(page, pictures / f"{name}-{width}-{'dark' if dark else 'light'}.png", width)
                assert_quiet(name, page.events, url)
                checked += 1
                print(f"  {name}: {size // 1000} kB, loaded in {took * 1000:.0f} ms, {sheets} sheets of Letter")
            # The checks can fail: a page that runs a script of its job is seen.
            spoilt = pathlib.Path(folder) / "spoilt.html"
            text = (pathlib.Path(folder) / "demo.html").read_text(encoding="utf-8")
            spoilt.write_text(text.replace("<main>", "<main><script>console.log(1)</script>"), encoding="utf-8")
            try:
                assert_quiet("spoilt", page.open(spoilt.as_uri()), spoilt.as_uri())
                raise SystemExit("a script that the content policy forbids went unseen")
            except AssertionError:
                pass
    finally:
        page.close()
    beside = "with axe-core" if axe else "without axe-core (skipped: not given)"
    print(f"traveler: {checked} pages are sound in a browser, {beside}")


def shot(page, file, width):
    height = min(page.run("document.documentElement.scrollHeight"), 9000)
    clip = {"x": 0, "y": 0, "width": width, "height": height, "scale": 1}
    data = page.call("Page.captureScreenshot", clip=clip, captureBeyondViewport=True)["data"]
    file.write_bytes(base64.b64decode(data))


if __name__ == "__main__":
    main()
