#!/usr/bin/env bash
# Known outlines, 15, 30 and 60 % of their edge left: are they found again, and do the bands hold what they say?
# 20 of the named families in turn and 10 of no family a share, on 2048 draws (the job has 4096): some 7 minutes
# of one core, the largest share beside the others. Prints the measured figures under those of the reference table.
# Figures asked and not met are printed as MISSED; the script fails when one is missed by far. `./run check --long`
# runs 200 a share on 4096 draws and fails on any that is missed. Usage: tests/recovery/check.sh BUILD/relict
set -uo pipefail
build=$(cd "$(dirname "$1")" && pwd)
out=$(mktemp -d)
trap 'rm -rf "$out"' EXIT
export RELICT_RECOVERY_TOLD=1 LD_LIBRARY_PATH=$build${LD_LIBRARY_PATH:+:$LD_LIBRARY_PATH}
share() { "$build"/tests/against/shape/against_outline_recovery 20 2048 1 "$1" >"$out/$1" 2>&1; }
share 0.6 &
largest=$! rc=0
share 0.15 || rc=1
share 0.3 || rc=1
wait $largest || rc=1
for s in 0.15 0.3 0.6; do
    sed -n 's/^# //p' "$out/$s"
    grep -E 'ERROR|Failure' "$out/$s"
done
exit $rc
