"""Holds reports against the schemas of their standards, by validators of other hands.

usage: check.py PROGRAM SARIF_SCHEMA

Inspects every job of the corpus, conforming and hostile, with PROGRAM; validates the SARIF log against the
OASIS schema and the JUnit report against junit.xsd beside this file. Lets a gate watch a folder, and reads its
status by another's reader of the OpenMetrics text format. Needs the packages jsonschema, lxml and
prometheus_client.
"""

import json
import pathlib
import shutil
import subprocess
import sys
import tempfile
import time

import jsonschema
from lxml import etree
from prometheus_client.openmetrics.parser import text_string_to_metric_families

here = pathlib.Path(__file__).resolve().parent
program, schema = sys.argv[1:]
corpus = here.parent.parent / "corpus"
jobs = sorted(
    str(path.relative_to(corpus.parent))
    for folder in ("demo", "conforming", "hostile")
    for path in (corpus / folder).iterdir()
    if path.is_file()
)
with tempfile.TemporaryDirectory() as folder:
    sarif, junit = f"{folder}/all.sarif", f"{folder}/all.xml"
    command = [program, "inspect", "--quiet", "--material", "PA6-CF", "--machine", "open-lined"]
    command += ["--format", f"sarif={sarif}", "--format", f"junit={junit}", *jobs, "there-is-none"]
    code = subprocess.run(command, cwd=corpus.parent, capture_output=True).returncode
    assert code == 2, f"a job that is not there gives exit code 2 and not {code}"
    log = json.load(open(sarif, encoding="utf-8"))
    validator = jsonschema.Draft7Validator(json.load(open(schema, encoding="utf-8")))
    faults = [fault.message[:300] for fault in validator.iter_errors(log)]
    assert not faults, faults[:5]
    results = log["runs"][0]["results"]
    assert len(results) > len(jobs), len(results)
    # The validator can fail: the same log with a level that the standard does not know.
    results[0]["level"] = "dreadful"
    assert not validator.is_valid(log), "the schema lets anything pass"
    xsd = etree.XMLSchema(etree.parse(str(here / "junit.xsd")))
    report = etree.parse(junit)
    xsd.assertValid(report)
    suites = report.findall("testsuite")
    assert len(suites) == len(jobs) + 1, (len(suites), len(jobs))
    for suite in suites:
        cases = suite.findall("testcase")
        assert int(suite.get("tests")) == len(cases)
        for kind in ("failure", "error", "skipped"):
            told = int(suite.get("skipped" if kind == "skipped" else kind + "s"))
            assert told == sum(case.find(kind) is not None for case in cases), suite.get("name")
    del suites[0].attrib["tests"]
    assert not xsd.validate(report), "the schema lets anything pass"
with tempfile.TemporaryDirectory() as folder:
    site = pathlib.Path(folder)
    sides = [site / name for name in ("inbox", "released", "held")]
    for side in sides:
        side.mkdir()
    shutil.copy(corpus / "demo" / "bracket.gcode", sides[0])
    (sides[0] / "bad.gcode").write_bytes(bytes(4))
    status = site / "status"
    command = [program, "gate", "--material", "PA6-CF", "--machine", "open-lined", "--settle", "0.1", "--watch"]
    command += [sides[0], "--released", sides[1], "--held", sides[2], "--status", status]
    gate = subprocess.Popen(command, stderr=subprocess.DEVNULL)
    try:
        end = time.monotonic() + 60
        while len(list(sides[2].glob("*.gcode"))) < 2 or "last_answer_timestamp_seconds 1" not in status.read_text():
            assert time.monotonic() < end, "the gate never answers"
            time.sleep(0.05)
    finally:
        gate.terminate()
    assert gate.wait(60) == 0, "the gate stops when told to"
    text = status.read_text()
    families = {family.name: family for family in text_string_to_metric_families(text)}
    jobs_by_answer = {sample.labels["answer"]: sample.value for sample in families["meltgauge_gate_jobs"].samples}
    assert jobs_by_answer == {"pass": 0, "hold": 1, "not-inspected": 1}, jobs_by_answer
    assert families["meltgauge_gate_oldest_age_seconds"].unit == "seconds"
    assert {family.type for family in families.values()} <= {"counter", "gauge", "info"}
    try:
        list(text_string_to_metric_families(text.replace("# EOF", "")))
        raise SystemExit("the reader lets anything pass")
    except ValueError:
        pass
print(f"standards: {len(families)} OpenMetrics families, {len(results)} SARIF results and {len(suites)} JUnit suites are valid")
