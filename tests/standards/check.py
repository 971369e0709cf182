"""Holds reports against the schemas of their standards, by validators of other hands.

usage: check.py PROGRAM SARIF_SCHEMA

Inspects every job of the corpus, conforming and hostile, with PROGRAM; validates the SARIF log against the
OASIS schema and the JUnit report against junit.xsd beside this file. Needs the packages jsonschema and lxml.
"""

import json
import pathlib
import subprocess
import sys
import tempfile

import jsonschema
from lxml import etree

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
print(f"standards: {len(results)} SARIF results and {len(suites)} JUnit suites are valid")
