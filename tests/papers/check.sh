#!/usr/bin/env bash
# What is handed over, used as its readers use it: blank forms filled and imported back, words that are hard to print, the bars of the
# plan measured as two renderers draw them, the project made again from the deposit. (The wood page's
# saved file is brought home in tests/browser/wood.mjs.) Usage: tests/papers/check.sh RELICT [--long]
set -uo pipefail
here=$(cd "$(dirname "$0")" && pwd)
relict=$(realpath "$1")
made=$(mktemp -d)
trap 'rm -rf "$made"' EXIT
if [[ -n ${RELICT_DEMO:-} ]]; then
    cp -r "$RELICT_DEMO" "$made/demo" # made by ./run check, once for all
else
    "$relict" demo "$made/demo" >/dev/null || exit 1
fi
bad=0 until=sizes
[[ ${2:-} == --long ]] && until=report
mkdir "$made/forms" "$made/bars" "$made/words"
/usr/bin/python3 "$here/forms.py" "$relict" "$made/demo/tray/forms/recording-forms.pdf" "$made/forms" || bad=1
/usr/bin/python3 "$here/bars.py" "$relict" "$made/demo/tray.relict" "$made/bars" || bad=1
# from a feature on the drawing to its piece in two steps: it is a link to its row, which names the pieces
for kind in piece part; do
    n=$(grep -o "<a tabindex=\"-1\" href=\"#$kind-" "$made/demo/tray/argument.html" | wc -l)
    echo "drawing to row    $n ${kind}s are links"
    ((n > 5)) || { echo "FAULT: the drawing does not lead to its ${kind}s"; bad=1; }
done
# a figure is given without each parallel: "not worked out again" would mean that its step fell out
for object in tray cradle; do
    table=$made/demo/$object/results/report-without.csv
    n=$(grep -c 'not worked out again' "$table")
    echo "without parallels $object: $(($(wc -l <"$table") - 1)) figures, $n not worked out again"
    ((n == 0)) || { echo "FAULT: $object has figures that were not worked out without a parallel"; bad=1; }
done
/usr/bin/python3 "$here/words.py" "$relict" "$made/words" || bad=1
for object in tray cradle; do
    mkdir "$made/again-$object"
    /usr/bin/python3 "$here/rebuild.py" "$relict" "$made/demo/$object.relict" "$made/demo/$object" "$made/again-$object" $until || bad=1
done
exit $bad
