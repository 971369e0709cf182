"""Makes the picture of the README from the demo job's real page.

usage: picture.py PROGRAM FILE.png

Needs Debian's chromium, and pillow of the Python registry to make the picture small.
"""

import base64
import io
import pathlib
import subprocess
import sys
import tempfile

import browser
from PIL import Image

TOP = pathlib.Path(__file__).resolve().parent.parent.parent
WIDTH, ENDS = 960, ("cautions", "plots", "strength")
program, picture = sys.argv[1:]
with tempfile.TemporaryDirectory() as folder:
    file = pathlib.Path(folder) / "bracket.html"
    call = [program, "traveler", "corpus/demo/bracket.gcode", "--material", "PA6-CF", "--machine", "open-lined"]
    code = subprocess.run([*call, "--section", "-o", str(file)], cwd=TOP).returncode
    assert code == 1, code
    page = browser.Browser(browser.found())
    page.window(WIDTH, scale=1)
    page.open(file.as_uri())
    # Two columns: from the top down to the figures, and what is drawn.
    tops = {id: page.run(f"document.getElementById('{id}').getBoundingClientRect().top + scrollY") for id in ENDS}
    columns = []
    for first, last in (("top", "cautions"), ("plots", "strength")):
        top = 0 if first == "top" else tops[first]
        clip = {"x": 0, "y": top, "width": WIDTH, "height": tops[last] - top - 10, "scale": 0.5}
        shot = page.call("Page.captureScreenshot", clip=clip, captureBeyondViewport=True)["data"]
        columns.append(Image.open(io.BytesIO(base64.b64decode(shot))).convert("RGB"))
    page.close()
left, right = columns
image = Image.new("RGB", (left.width + right.width, max(left.height, right.height)), "white")
image.paste(left, (0, 0))
image.paste(right, (left.width, 0))
image.quantize(128, method=Image.Quantize.MAXCOVERAGE, dither=Image.Dither.NONE).save(picture, optimize=True)
print(f"{picture}: {image.width} by {image.height}, {pathlib.Path(picture).stat().st_size // 1000} kB")
