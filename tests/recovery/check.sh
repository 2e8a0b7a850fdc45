#!/usr/bin/env bash
# Known outlines, 15, 30 and 60 % of their edge left: are they found again, and do the bands hold what they say?
# 20 of the named families in turn and 8 of no family a share, on 2048 draws (the job has 4096): some 6 minutes
# of one core. Prints the measured figures under those of the reference table. Figures asked and not met are
# printed as MISSED; the script fails when one is missed by far. `./run check --long` runs 200 a share on 4096
# draws and fails on any that is missed. Usage: tests/recovery/check.sh BUILD/relict
set -uo pipefail
build=$(cd "$(dirname "$1")" && pwd)
out=$(mktemp)
trap 'rm -f "$out"' EXIT
RELICT_RECOVERY_TOLD=1 LD_LIBRARY_PATH=$build${LD_LIBRARY_PATH:+:$LD_LIBRARY_PATH} \
    "$build"/tests/against/shape/against_outline_recovery 20 2048 >"$out" 2>&1
rc=$?
sed -n 's/^# //p' "$out"
((rc == 0)) || grep -E 'ERROR|Failure' "$out"
exit $rc
