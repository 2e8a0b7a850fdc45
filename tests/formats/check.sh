#!/usr/bin/env bash
# Outside checkers over a folder that `relict tell` wrote: poppler, MuPDF, qpdf, xmllint, a glTF
# validator, a JSON-LD processor in safe mode, an iCalendar parser, a DXF reader, JSON schemas.
# Usage: tests/formats/check.sh FOLDER | PROGRAM. With the program, both demos are made and checked,
# and what the tests of show/ and tell/ draw. Prints a table; exits 1 when a checker finds an error.
set -uo pipefail
here=$(cd "$(dirname "$0")" && pwd)
if [[ -f $1 ]]; then
    made=$(mktemp -d)
    trap 'rm -rf "$made"' EXIT
    if [[ -n ${RELICT_DEMO:-} ]]; then
        cp -r "$RELICT_DEMO" "$made/demo" # made by ./run check, once for all
    else
        "$1" demo "$made/demo" >/dev/null || exit 1
    fi
    mkdir "$made/drawn"
    for t in "$(dirname "$1")"/tests/unit/unit_{solid,figures,plan,report,papers}; do
        [[ -x $t ]] && RELICT_PAGES=$made/drawn RELICT_SOURCE=$here/../.. "$t" >/dev/null 2>&1
    done
    bad=0
    for folder in "$made"/demo/tray "$made"/demo/cradle "$made"/drawn "$made"/drawn/everything; do
        [[ -d $folder ]] || continue
        echo "-- ${folder#"$made"/}"
        "$0" "$folder" || bad=1
    done
    exit $bad
fi
folder=$(cd "$1" && pwd) || exit 2
bad=0
[[ -d $here/node_modules ]] || (cd "$here" && npm ci --no-audit --no-fund --silent) || exit 1

line() { printf '%-32s %4d files %4d errors\n' "$1" "$2" "$3"; ((bad += $3)); }

n=0 e=0
while IFS= read -r -d '' f; do
    ((n++))
    xmllint --noout --nonet "$f" || ((e++))
done < <(find "$folder" -not -path "$folder/files/*" -name '*.svg' -print0)
line 'svg (xmllint)' $n $e

n=0 q=0 p=0 m=0 fonts=0
while IFS= read -r -d '' f; do
    ((n++))
    qpdf --check "$f" >/dev/null 2>/tmp/relict-qpdf.$$ || { cat /tmp/relict-qpdf.$$; ((q++)); }
    pdftoppm -r 20 -gray "$f" /tmp/relict-pages.$$ 2>/tmp/relict-poppler.$$ || ((p++))
    [[ -s /tmp/relict-poppler.$$ ]] && { cat /tmp/relict-poppler.$$; ((p++)); }
    rm -f /tmp/relict-pages.$$*
    mutool draw -q -r 20 -F pgm -o /dev/null "$f" 2>/tmp/relict-mupdf.$$ || ((m++))
    # Debian's mutool is built without colour profiles and says so each time
    grep -v 'ICC support is not available' /tmp/relict-mupdf.$$ | grep -i 'error\|warning' && ((m++))
    # every font embedded: the sixth-last column of pdffonts
    pdffonts "$f" | tail -n +3 | awk '{ if ($(NF-4) != "yes") bad = 1 } END { exit bad }' || ((fonts++))
    pdfinfo "$f" 2>/dev/null | grep -q '^Tagged: *yes' || { echo "$f is not tagged"; ((p++)); }
done < <(find "$folder" -not -path "$folder/files/*" -name '*.pdf' -print0)
rm -f /tmp/relict-qpdf.$$ /tmp/relict-poppler.$$ /tmp/relict-mupdf.$$
line 'pdf (qpdf)' $n $q
line 'pdf (poppler)' $n $p
line 'pdf (mupdf)' $n $m
line 'pdf (fonts)' $n $fonts

if [[ -f $folder/checksums.sha256 ]]; then
    e=0
    (cd "$folder" && sha256sum -c --quiet checksums.sha256) || e=1
    line 'sha256sum' "$(wc -l <"$folder/checksums.sha256")" $e
fi

node "$here/check.mjs" "$folder" || bad=1
exit $((bad > 0))
