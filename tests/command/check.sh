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
    [[ -z ${input:-} ]] || printf '  %-34s %d  %.100s\n' "$input" "$rc" "$(grep -m1 '^Not taken' out || head -1 out)"
}

# The same as one line of the table of bad input.
input() { # what -- as refuses
    local input=$1
    shift
    refuses "$@"
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
if [[ -n ${RELICT_DEMO:-} ]]; then
    cp -r "$RELICT_DEMO" demo # made by ./run check, once for all
else
    relict demo demo --only tray >demo.log 2>&1 || fault "demo: $(tail -3 demo.log)"
fi
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

echo "- tables folded for reading: no line over 120 signs, no word lost or cut in two"
for table in shopping parts order; do
    relict show demo/tray.relict $table >folded
    relict show demo/tray.relict $table --json >whole.json
    python3 - <<'END' >out 2>&1 || fault "the table $table: $(head -c 300 out)"
import json
from collections import Counter
whole, lines = json.load(open("whole.json")), open("folded").read().split("\n")
assert len(whole["rows"]) and max(map(len, lines)) <= 120, "a line of %d signs" % max(map(len, lines))
text = lambda v: v if isinstance(v, str) else ""
# a cell like the one above it may stand as "as above"
above = [None] + whole["rows"]
cells = [v for row, before in zip(whole["rows"], above) for k, v in enumerate(row) if not before or before[k] != v]
words = Counter(w for v in [whole["title"], *whole["columns"], *cells] for w in text(v).split())
shown = Counter(w for line in lines for w in line.split())
assert not words - shown, "lost: %s" % dict(words - shown)
END
done

echo "- wrong words"
refuses 2 "did you mean" -- relict shwo x
refuses 2 "did you mean" -- relict compute demo/tray.relict sizs
refuses 2 "nothing called" -- relict show demo/tray.relict shoping2
refuses 2 "no option" -- relict show demo/tray.relict --jsn
refuses 2 "needs" -- relict why
refuses 2 "too many" -- relict verify a b
refuses 5 "did you mean" -- relict why demo/tray.relict lath.thicknes.fresh
refuses 3 "not a field" -- bash -c 'echo "{\"chrod\": 1}" | relict calc arc'

echo "- bad input of each kind: exit status, and the first line that is said"
input "missing project" 5 "no such file" -- relict show nothere.relict
input "missing list" 8 "opened" -- relict import demo/tray.relict nothere.csv
relict new bad.relict >/dev/null
: >nothing.csv
input "empty file" 3 "empty" -- relict import bad.relict nothing.csv
printf 'id,part\n' >empty.csv
input "heading and no rows" 3 "no rows" -- relict import bad.relict empty.csv
printf 'id,part,length_mm\nX1,caf\xe9,10\n' >latin.csv
input "Latin-1 for UTF-8" 3 "UTF-8" -- relict import bad.relict latin.csv
printf '\x89PNG\r\n\x1a\n' >scan.csv && head -c 4000 /dev/urandom >>scan.csv
input "a picture named .csv" 3 "list" -- relict import bad.relict scan.csv --as finds
head -c 4000 /dev/urandom >noise.csv
input "noise named .csv" 3 -- relict import bad.relict noise.csv
printf 'PK\003\004nonsense' >torn.xlsx
input "a torn spreadsheet" 3 -- relict import bad.relict torn.xlsx
python3 - <<'END'
import zipfile
with zipfile.ZipFile("bomb.xlsx", "w", zipfile.ZIP_DEFLATED) as z:
    package = "<Relationships xmlns='http://schemas.openxmlformats.org/package/2006/relationships'>"
    rel = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
    z.writestr("xl/workbook.xml", f"<workbook xmlns='http://schemas.openxmlformats.org/spreadsheetml/2006/main' xmlns:r='{rel}'>"
               "<sheets><sheet name='a' sheetId='1' r:id='r1'/></sheets></workbook>")
    z.writestr("_rels/.rels", f"{package}<Relationship Id='r1' Type='{rel}/officeDocument' Target='xl/workbook.xml'/></Relationships>")
    z.writestr("xl/_rels/workbook.xml.rels", f"{package}<Relationship Id='r1' Type='{rel}/worksheet' Target='worksheets/sheet1.xml'/></Relationships>")
    with z.open("xl/worksheets/sheet1.xml", "w", force_zip64=True) as f:
        f.write(b"<worksheet><sheetData>")
        for _ in range(400):
            f.write(b"<row><c t='inlineStr'><is><t>x</t></is></c></row>" * 20000)
END
input "a spreadsheet bomb ($(du -k bomb.xlsx | cut -f1) kB for 380 MB)" 3 "million rows" -- relict import bad.relict bomb.xlsx
truncate -s 1G giant.csv
input "a list of 1 GB" 4 "larger" -- relict import bad.relict giant.csv
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
sed -n 's/^  Row/  set aside: row/p' out
cp demo/tray.relict newer.relict
python3 - <<'END'
import struct
with open("newer.relict", "r+b") as f:  # user_version: bytes 60 to 63 of the header
    f.seek(60); f.write(struct.pack(">i", 999))
END
input "a project of a newer version" 7 "newer" -- relict undo newer.relict
cp demo/tray.relict changed.relict
python3 - <<'END'
b = bytearray(open("changed.relict", "rb").read())
i = b.find(b'"value":139.5'); assert i > 0
b[i + 8:i + 13] = b"931.5"
open("changed.relict", "wb").write(b)
END
input "one changed byte" 1 "A01" -- relict verify changed.relict
mkdir locked && chmod 555 locked
nobody=()
if [[ $(id -u) == 0 ]]; then
    cp --remove-destination "$relict" bin/relict
    chmod 755 . bin bin/relict
    nobody=(setpriv --reuid=65534 --clear-groups)
fi
input "a folder that is read only" 8 -- "${nobody[@]}" relict new locked/a.relict
{ echo 'id,part,length_mm'; yes 'Z,lath,10' | head -c 1000000 || true; } >big.csv
relict new big.relict >/dev/null
timeout 60 relict import big.relict big.csv >out 2>&1 || true
grep -qiE 'taken|Not taken' out || fault "a long list of repeated ids: $(head -c 300 out)"
if mkdir full && mount -t tmpfs -o size=256k tmpfs full 2>/dev/null; then
    input "a full disk" 8 "full" -- bash -c 'relict new full/a.relict && relict import full/a.relict big.csv'
    umount -l full || true
fi
relict verify demo/tray.relict >out || fault "the demo does not verify: $(cat out)"

if ((bad)); then
    echo "$bad faults"
    exit 1
fi
echo "- no fault"
