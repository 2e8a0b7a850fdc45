#!/usr/bin/env python3
"""Published shell problems of tests/against/body/cases through `relict calc shell`: error met beside the one allowed,
mesh, iterations, processor seconds of the whole command with meshing. Prints a table; judges nothing.
Usage: shell_cases.py RELICT"""

import glob
import json
import os
import resource
import subprocess
import sys

here = os.path.dirname(os.path.abspath(__file__))


def met(check, steps):
    """Error and limit in percent of one check, or None when it is of another kind."""
    step = steps[check["step"]]
    if "parameter" in check:
        got, want = step["parameter"], check["parameter"]
    elif "index" in check and check.get("want"):
        answer = next(a for a in step["answers"] if a["name"] == check["answer"])
        got, want = answer["values"][check["index"]], check["want"]
    else:
        return None
    limit = check.get("relative", check.get("absolute", 0) / abs(want))
    return 100 * (got - want) / abs(want), 100 * limit


print(f"{'case':28} {'triangles':>9} {'unknowns':>8} {'error, %':>9} {'allowed':>8} {'iterations in steps':>20} {'s':>6}  stable")
for path in sorted(glob.glob(here + "/../tests/against/body/cases/*.json")):
    with open(path, encoding="utf-8") as f:
        case = json.load(f)
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    run = subprocess.run([sys.argv[1], "calc", "shell", "-"], input=json.dumps(case["case"]), text=True, capture_output=True)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    name = os.path.basename(path)[:-5]
    if run.returncode:
        print(f"{name:28} not solved: {run.stderr.strip()}")
        continue
    out = json.loads(run.stdout)
    checks = [m for m in (met(c, out["steps"]) for c in case["checks"]) if m]
    worst = max(checks, key=lambda m: abs(m[0]) / m[1] if m[1] else 0, default=None)
    error = f"{worst[0]:+9.3f} {worst[1]:8.3g}" if worst else f"{'':9} {'':8}"
    work = f"{sum(s['iterations'] for s in out['steps'])} in {len(out['steps'])}"
    seconds = after.ru_utime - before.ru_utime + after.ru_stime - before.ru_stime
    stable = "yes" if all(s["stable"] for s in out["steps"]) else "not all"
    print(f"{name:28} {out['triangles']:9} {out['unknowns']:8} {error} {work:>20} {seconds:6.2f}  {stable}")
