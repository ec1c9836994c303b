#!/bin/sh
# Runs every command of README.md's console blocks (lines that begin with "$ ") and compares
# what it prints with what stands there; BLESS=1 writes the new text into README.md instead.
# The commands run one after the other in an empty folder with a copy of examples/ in it.
export LC_ALL=C TZ=UTC NO_COLOR=1
top=$(pwd)
work=$(mktemp -d) || exit 1
trap 'rm -rf "$work"' EXIT
PATH=$(dirname "${FLATWRIGHT:-$top/build/release/flatwright}"):$PATH
mkdir "$work/run" && cp -R examples "$work/run"
cd "$work/run" || exit 1

# in: inside a console block; skip: inside the old output of a command that was run
in=0 skip=0 commands=0
while IFS= read -r line; do
    case $in$line in
    '0```console') in=1 ;;
    '1```') in=0 skip=0 ;;
    '1$ '*)
        printf '%s\n' "$line"
        sh -c "${line#??}" 2>&1 </dev/null
        commands=$((commands + 1)) skip=1
        continue
        ;;
    esac
    [ $skip = 1 ] || printf '%s\n' "$line"
done <"$top/README.md" >"$work/README.md"

[ $commands -gt 0 ] || { echo 'README.md runs no command'; exit 1; }
if [ -n "$BLESS" ]; then
    cp "$work/README.md" "$top/README.md"
else
    diff -u "$top/README.md" "$work/README.md"
fi
