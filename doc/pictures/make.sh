#!/usr/bin/env bash
# The pictures of README.md and doc/guide.md, as the program draws them from the invented tray.
# Usage: doc/pictures/make.sh RELICT PROJECT FOLDER, e.g. after ./run demo:
#   doc/pictures/make.sh build/relict out/demo/tray.relict doc/pictures
# (calibration.svg is written by tests/calibration/plot.py.)
set -euo pipefail
relict=$1 project=$2 to=$3
told=$(mktemp -d)
trap 'rm -rf "$told"' EXIT
"$relict" tell "$project" "$told" >/dev/null
take() { # drawing in the folder, name here
    local from
    from=$(ls "$told"/drawings/*-"$1".png)
    cp "$from" "$to/$2.png"
}
take found tray
take sizes sizes
take outline outline
take stages stages
take season season
