#!/bin/sh
# Writes an assembly file that holds each input byte for byte, with a table of names, so that the
# program carries its data without large C arrays. Names are paths below the source or the
# build folder. Usage: embed.sh OUTPUT SOURCE BUILD FILE...
set -eu
out=$1 source=$(realpath "$2") build=$(realpath "$3")
shift 3
{
    echo '.section .rodata'
    i=0
    for f in "$@"; do
        printf '.balign 16\nasset_%d:\n.incbin "%s"\nasset_%d_end:\n.byte 0\n' $i "$f" $i
        i=$((i + 1))
    done
    i=0
    for f in "$@"; do
        name=$(realpath "$f") # Meson hands over paths relative to the build folder
        name=${name#"$build"/}
        printf 'name_%d: .asciz "%s"\n' $i "${name#"$source"/}"
        i=$((i + 1))
    done
    printf '.section .data.rel.ro,"aw"\n.globl asset_table\n.balign 8\nasset_table:\n'
    i=0
    for f in "$@"; do
        printf '.quad name_%d, asset_%d, asset_%d_end\n' $i $i $i
        i=$((i + 1))
    done
    printf '.quad 0, 0, 0\n.section .note.GNU-stack,"",@progbits\n'
} >"$out"
