"""Runs `meltgauge audit --map` on a local cluster of an existing engine, folds what comes back into a
store, and compares it row by row with an audit on this computer.

    python run.py dask|spark PROGRAM [COUNT]

COUNT jobs are made from those in corpus/conforming, every one with a comment of its own. Then the lines go
through tables (Parquet) that pyarrow writes, and answers come back in tables that it reads. Engine and
pyarrow are packages of the Python registry; this script installs none.
"""

import itertools
import os
import pathlib
import random
import sqlite3
import subprocess
import sys
import tempfile
import time

TOP = pathlib.Path(__file__).resolve().parents[2]
SHEETS = ["--material", "PLA", "--machine", "closed-hardened"]

# What a store says of its jobs. Runs and history differ between a fold and a walk, and so do the
# numbers of rows.
QUESTIONS = [
    "SELECT path, member, digest, size, month, terms, state, error, material, machine, critical, major,"
    " minor, observations, not_held, bytes, lines, packing, time_s, filament_mm, filament_g, layers"
    " FROM jobs ORDER BY path, member",
    "SELECT path, member, number, requirement, class, count, counts, line, amount, limit_value, unit,"
    " whose, message, conceded FROM findings ORDER BY path, member, number",
    "SELECT path, member, name, value FROM held_values ORDER BY path, member, name",
    "SELECT * FROM totals ORDER BY kind, name",
]


def make_archive(folder, count):
    """COUNT jobs, two of them no jobs at all; their paths in an order of their own."""
    sources = sorted((TOP / "corpus" / "conforming").glob("*.gcode"))
    texts = [source.read_bytes() for source in sources]
    paths = []
    for number, text in zip(range(count), itertools.cycle(texts)):
        path = folder / f"{number % 10}" / f"job-{number}.gcode"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(b"; job %d\n" % number + text if number % 50 else b"; no job\n")
        os.utime(path, (1_790_000_000, 1_790_000_000))
        paths.append(str(path))
    random.Random(8).shuffle(paths)
    return paths


def mapper(program):
    return [program, "audit", "--map", *SHEETS]


def on_dask(program, paths):
    import dask.bag
    from dask.distributed import Client, LocalCluster

    command = mapper(program)

    def pipe(part):
        # A failing mapper fails its task, and the task is tried again elsewhere.
        ran = subprocess.run(
            command, input="\n".join(part), capture_output=True, text=True, check=True
        )
        return ran.stdout.splitlines()

    with LocalCluster(
        n_workers=2, threads_per_worker=1, dashboard_address=None, host="127.0.0.1"
    ) as cluster, Client(cluster):
        begin = time.monotonic()
        lines = dask.bag.from_sequence(paths, npartitions=8).map_partitions(pipe).compute()
        return lines, time.monotonic() - begin


def on_spark(program, paths):
    import shlex

    from pyspark.sql import SparkSession

    spark = (
        SparkSession.builder.master("local[2]")
        .config("spark.driver.host", "127.0.0.1")
        .config("spark.driver.bindAddress", "127.0.0.1")
        .config("spark.ui.enabled", "false")
        .getOrCreate()
    )
    begin = time.monotonic()
    # Without checkCode this engine takes a mapper that fails for one that had nothing to say.
    rows = spark.sparkContext.parallelize(paths, 8).pipe(
        shlex.join(mapper(program)), checkCode=True
    )
    lines = rows.collect()
    took = time.monotonic() - begin
    spark.stop()
    return lines, took


def rows(store):
    with sqlite3.connect(f"file:{store}?mode=ro", uri=True) as connection:
        return [connection.execute(question).fetchall() for question in QUESTIONS]


def through_tables(program, place, lines, far):
    """Lines folded from tables are those folded from a pipe; answers as tables are those of the store."""
    import pyarrow
    import pyarrow.parquet

    folder = place / "tables"
    folder.mkdir()
    packings = ["none", "snappy", "gzip", "zstd"]
    for number, packing in enumerate(packings):
        table = pyarrow.table({"line": lines[number :: len(packings)]})
        pyarrow.parquet.write_table(table, folder / f"part-{number}.parquet", compression=packing)
    other = place / "other.sqlite"
    fold = [program, "audit", "--fold", str(folder), "--quiet", "--store", str(other)]
    subprocess.run(fold, check=True)
    assert rows(other) == rows(far), "lines from tables give other rows"
    for question, wanted in zip(QUESTIONS, rows(far)):
        ask = [program, "audit", "query", question, "--store", str(far), "--format", "parquet"]
        answer = place / "answer.parquet"
        with answer.open("wb") as out:
            subprocess.run(ask, stdout=out, check=True)
        read = pyarrow.parquet.read_table(answer)
        read.validate(full=True)
        found = list(zip(*(column.to_pylist() for column in read.columns)))
        assert found == wanted, f"a table differs: {question}"


def main():
    engine, program = sys.argv[1], str(pathlib.Path(sys.argv[2]).resolve())
    count = int(sys.argv[3]) if len(sys.argv) > 3 else 200
    with tempfile.TemporaryDirectory() as place:
        place = pathlib.Path(place)
        paths = make_archive(place / "archive", count)
        local = place / "local.sqlite"
        begin = time.monotonic()
        ran = subprocess.run(
            [program, "audit", str(place / "archive"), "--store", str(local), "--quiet", *SHEETS]
        )
        alone = time.monotonic() - begin
        assert ran.returncode in (0, 1, 2), ran.returncode
        lines, took = {"dask": on_dask, "spark": on_spark}[engine](program, paths)
        assert len(lines) == count, f"{len(lines)} lines of {count} jobs"
        # A retried task may give its lines twice; the order is the engine's.
        random.Random(9).shuffle(lines)
        far = place / "far.sqlite"
        fold = [program, "audit", "--fold", "--quiet", "--store", str(far)]
        subprocess.run(fold, input="\n".join(lines + lines[: count // 4]), text=True, check=True)
        ours, theirs = rows(local), rows(far)
        for question, one, other in zip(QUESTIONS, ours, theirs):
            assert one, question
            assert one == other, f"rows differ: {question}"
        through_tables(program, place, lines, far)
        jobs, findings = len(ours[0]), len(ours[1])
        assert jobs == count, f"{jobs} of {count} jobs"
        print(
            f"{engine}: {jobs} jobs and {findings} findings, every row as on this computer alone, also "
            f"through tables; "
            f"mapped in {took:.1f} s, alone {alone:.1f} s"
        )


if __name__ == "__main__":
    main()
