"""The whole chain on the demo job: inspect, rework, gate, survey, qualify, audit, traveler.

usage: run.py PROGRAM

Every step takes what the one before left, and what each gives is held against the others: the same findings,
the same bytes, the same figures.
"""

import hashlib
import json
import pathlib
import shutil
import subprocess
import sys
import tempfile

TOP = pathlib.Path(__file__).resolve().parent.parent.parent
PROGRAM = str(pathlib.Path(sys.argv[1]).resolve())
ON = ["--material", "PA6-CF", "--machine", "closed-hardened"]


def ran(*call, code):
    """What a call wrote, and to which stream; its exit code is what it must be."""
    done = subprocess.run([PROGRAM, *call], cwd=FOLDER, capture_output=True, text=True, timeout=300)
    assert done.returncode == code, f"{call[0]} gave {done.returncode} and not {code}: {done.stdout}{done.stderr}"
    return done.stdout, done.stderr


def record(*call, code):
    return json.loads(ran(*call, "--format", "record", code=code)[0])


def ids(inspected):
    return sorted(finding["requirement"] for finding in inspected["findings"])


with tempfile.TemporaryDirectory() as FOLDER:
    folder = pathlib.Path(FOLDER)
    job, reworked = folder / "bracket.gcode", folder / "bracket.reworked.gcode"
    shutil.copy(TOP / "corpus/demo/bracket.gcode", job)
    original = job.read_bytes()

    # Inspect: held, since it is too cold for this material.
    before = record("inspect", job.name, *ON, code=1)
    assert before["verdict"] == "held" and "cold-deposit" in ids(before), ids(before)

    # Rework: put right and proven; the original stays.
    mended = record("rework", job.name, *ON, code=0)
    assert mended["proven"] is True and mended["reworks"], mended
    assert job.read_bytes() == original and reworked.read_bytes() != original
    after = record("inspect", reworked.name, *ON, code=0)
    assert after["verdict"] == "released" and len(after["findings"]) < len(before["findings"]), ids(after)

    # Gate: the job as it was does not pass, the reworked one does; with --rework the first becomes the second.
    ran("gate", *ON, job.name, code=1)
    ran("gate", *ON, reworked.name, code=0)
    passed = subprocess.run([PROGRAM, "gate", *ON, "--rework", "-"], cwd=FOLDER, input=original, capture_output=True)
    assert passed.returncode == 0 and passed.stdout == reworked.read_bytes(), passed.stderr

    # Survey: the rework lays what the job laid.
    was, now = (record("survey", name, *ON, code=0) for name in (job.name, reworked.name))
    for key in ("filament_mm", "filament_g", "layers", "box_mm"):
        assert was["survey"][key] == now["survey"][key], key
    mass = now["survey"]["filament_g"]
    assert 4 < mass < 5, mass

    # Qualify: with changes, for the part that the survey measured.
    answer = record("qualify", *ON, "--job", reworked.name, code=0)
    assert answer["verdict"] == "suits-with-changes", answer["verdict"]
    told = json.dumps(answer)
    assert "drying" in told and "59.6" in told, told[:2000]

    # Audit: both in a store, with the verdicts they had.
    ran("audit", ".", *ON, "--store", "shop.sqlite", code=1)
    rows = ran("audit", "query", "SELECT path, state FROM jobs ORDER BY path", "--store", "shop.sqlite", "--format", "csv", code=0)[0]
    states = dict(line.rsplit(",", 1) for line in rows.split()[1:])
    assert [states[name] for name in sorted(states)] == ["held", "released"], rows

    # Traveler: of both, with all that came before.
    for name, code, words in (
        (job, 1, ["Do not print this job as it is", "220 °C → 240 °C", "With the rework below", "released."]),
        (reworked, 0, ["Nothing was found that holds it", "Dry it at 80 °C", f"{mass:.1f} g"]),
    ):
        ran("traveler", name.name, *ON, "--section", "-o", "page.html", code=code)
        page = (folder / "page.html").read_text(encoding="utf-8")
        for word in words:
            assert word in page, (name.name, word)
        inspected = before if name == job else after
        digest = inspected["job"]["digest"] if "digest" in inspected["job"] else None
        assert digest is None or digest.split(":")[-1] in page, "the page names another job"
        for requirement in ids(inspected):
            assert f"</span> {requirement}</h3>" in page, requirement
    assert hashlib.sha256(job.read_bytes()).digest() == hashlib.sha256(original).digest()
print("chain: inspect, rework, gate, survey, qualify, audit and traveler agree on the demo job")
