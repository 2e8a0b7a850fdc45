#!/usr/bin/env bash
# The command line as a person meets it: every example of the manual as printed, every open method on
# its own example, wrong words, and bad input of each kind. Usage: check.sh RELICT [--long]
set -euo pipefail
relict=$(realpath "$1")
source=$(realpath "$(dirname "$0")/../..")
work=$(mktemp -d)
trap 'umount -l "$work/full" 2>/dev/null || true; chmod -R u+w "$work"; rm -rf "$work"' EXIT
cd "$work"
export PATH="$work/bin:$PATH" XDG_STATE_HOME="$work/state"
mkdir bin
ln -s "$relict" bin/relict
bad=0
fault() {
    echo "FAULT: $*"
    bad=$((bad + 1))
}

# Runs a command that must fail with this status and say these words.
refuses() { # status words... -- command
    local status=$1 rc=0 words=()
    shift
    while [[ $1 != -- ]]; do
        words+=("$1")
        shift
    done
    shift
    timeout 60 "$@" >out 2>&1 || rc=$?
    ((rc == status)) || fault "\"$*\" ended with $rc, not $status: $(head -c 300 out)"
    for w in "${words[@]}"; do
        grep -qi -- "$w" out || fault "\"$*\" does not say \"$w\": $(head -c 300 out)"
    done
}

echo "- open methods on their own examples"
count=0
for m in $(relict calc --json | python3 -c 'import json,sys; print(*[m["method"] for m in json.load(sys.stdin)])'); do
    relict calc "$m" --help >/dev/null || fault "calc $m --help"
    relict calc "$m" --example | timeout 60 relict calc "$m" >out 2>&1 || fault "calc $m: $(head -c 300 out)"
    python3 -c 'import json; json.load(open("out"))' || fault "calc $m: not JSON"
    count=$((count + 1))
done
echo "  $count methods"

echo "- the demo, and every example of the manual"
relict demo demo --only tray >demo.log 2>&1 || fault "demo: $(tail -3 demo.log)"
examples=0
for c in $(relict help | sed -n 's/^  \([a-z]*\)  .*/\1/p'); do
    case $c in demo | serve) continue ;; esac
    while read -r line; do
        [[ -n $line ]] || continue
        rc=0
        timeout 200 bash -c "$line" >out 2>&1 || rc=$?
        # `check` ends with 1 when something is missing, as it should here
        [[ $rc == 0 || ($rc == 1 && $c == check) ]] || fault "example of $c: $line: $(head -c 300 out)"
        examples=$((examples + 1))
    done < <(relict help "$c" | sed '1,/^Example:/d')
done
echo "  $examples lines"

echo "- wrong words"
refuses 2 "did you mean" -- relict shwo x
refuses 2 "did you mean" -- relict compute demo/tray.relict sizs
refuses 2 "nothing called" -- relict show demo/tray.relict shoping2
refuses 2 "no option" -- relict show demo/tray.relict --jsn
refuses 2 "needs" -- relict why
refuses 2 "too many" -- relict verify a b
refuses 5 "did you mean" -- relict why demo/tray.relict lath.thicknes.fresh
refuses 3 "not a field" -- bash -c 'echo "{\"chrod\": 1}" | relict calc arc'

echo "- bad input of each kind"
refuses 5 "no such file" -- relict show nothere.relict
refuses 8 "opened" -- relict import demo/tray.relict nothere.csv
printf 'id,part\n' >empty.csv
relict new bad.relict >/dev/null
refuses 3 -- relict import bad.relict empty.csv || true
printf 'id,part,length_mm\nX1,caf\xe9,10\n' >latin.csv
refuses 3 "UTF-8" -- relict import bad.relict latin.csv
head -c 4000 /dev/urandom >scan.csv
refuses 3 -- relict import bad.relict scan.csv
printf 'PK\003\004nonsense' >bomb.xlsx
refuses 3 -- relict import bad.relict bomb.xlsx
cat >rows.csv <<'END'
id,part,material,zone,state,length_mm,width_mm,thick_mm,end_1,end_2,tol_mm
R1,lath,Salix sp. (split),W,after treatment,130,20,4,cut,cut,0.5
R2,lath,Salix sp. (split),W,after treatment,130,20,-4,cut,cut,0.5
R3,lath,Salix sp. (split),W,boiled in oil,130,20,4,cut,cut,0.5
R1,lath,Salix sp. (split),W,after treatment,131,20,4,cut,cut,0.5
R5,lath,Salix sp. (split),W,after treatment,nan,20,4,cut,cut,0.5
R6,lath,Salix sp. (split),W,after treatment,"13,2",20,4,cut,cut,0.5
END
relict import bad.relict rows.csv >out || fault "rows.csv: $(cat out)"
grep -q "1 of 6 rows taken" out || fault "of rows.csv one row should be taken: $(head -1 out)"
for r in 3 4 5 6 7; do grep -q "Row $r" out || fault "row $r was not set aside: $(cat out)"; done
cp demo/tray.relict newer.relict
python3 - <<'END'
import struct
with open("newer.relict", "r+b") as f:  # user_version: bytes 60 to 63 of the header
    f.seek(60); f.write(struct.pack(">i", 999))
END
refuses 7 "newer" -- relict undo newer.relict
cp demo/tray.relict changed.relict
python3 - <<'END'
b = bytearray(open("changed.relict", "rb").read())
i = b.find(b'"value":139.5'); assert i > 0
b[i + 8:i + 13] = b"931.5"
open("changed.relict", "wb").write(b)
END
refuses 1 "A01" -- relict verify changed.relict
mkdir locked && chmod a-w locked
if [[ $(id -u) != 0 ]]; then refuses 8 -- relict new locked/a.relict; fi
{ echo 'id,part,length_mm'; yes 'Z,lath,10' | head -c 1000000 || true; } >big.csv
relict new big.relict >/dev/null
timeout 60 relict import big.relict big.csv >out 2>&1 || true
grep -qiE 'taken|Not taken' out || fault "a long list of repeated ids: $(head -c 300 out)"
if mkdir full && mount -t tmpfs -o size=256k tmpfs full 2>/dev/null; then
    refuses 8 "full" -- bash -c 'relict new full/a.relict && relict import full/a.relict big.csv'
    umount -l full || true
fi
relict verify demo/tray.relict >out || fault "the demo does not verify: $(cat out)"

if ((bad)); then
    echo "$bad faults"
    exit 1
fi
echo "- no fault"
