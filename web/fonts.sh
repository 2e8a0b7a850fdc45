#!/bin/sh
# Makes the screens' font: the signs they use, from Debian's Andika, small enough for a slow phone.
# Without fonttools an empty file is left and the reader's own fonts stand in.
# Usage: fonts.sh FONT.ttf OUTPUT.woff
set -eu
signs='U+0020-007E,U+00A0-017F,U+0192,U+02BC,U+0300-0304,U+0308,U+030C,U+2010-2014,U+2018-201E,U+2020-2022,U+2026,U+2032-2033,U+2039-203A,U+20AC,U+2190-2193,U+2202,U+2212,U+2248,U+2260,U+2264-2265,U+03B1-03C9'
if /usr/bin/python3 -c 'import fontTools' 2>/dev/null && [ -f "$1" ]; then
    /usr/bin/python3 -m fontTools.subset "$1" --unicodes="$signs" --flavor=woff --layout-features=kern,lnum,tnum --no-hinting \
        --output-file="$2" >/dev/null 2>&1
else
    : >"$2"
fi
