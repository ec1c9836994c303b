#!/bin/sh
# The house rules that a compiler does not see. The layers of src/ call downward only, told from
# the symbols of the objects under $B/src: base; job and figure; bench; adjust; shop; report; cli.
# LAPACK is called by src/adjust/linalg*.c alone, memory is asked for in one place, the program
# includes public headers only, flatwright.h has them all, and DEVELOPERS.md lists every file with
# its first line; BLESS=1 writes that list.
export LC_ALL=C
B=${B:-build/release}
work=$(mktemp -d) || exit 1
trap 'rm -rf "$work"' EXIT

nm -A $(for file in src/*/*.c; do echo "$B/${file%.c}.o"; done) | awk '{
    n = split($1, path, "/"); sub(/:.*/, "", path[n])
    print path[n - 1], path[n], $(NF - 1), $NF
}' >"$work/symbols"
[ -s "$work/symbols" ] || echo "no objects under $B/src" >>"$work/bad"

awk '
    BEGIN {
        rank["base"] = 0; rank["job"] = rank["figure"] = 1; rank["bench"] = 2; rank["adjust"] = 3
        rank["shop"] = 4; rank["report"] = 5; rank["cli"] = 6
    }
    !($1 in rank) { print "src/" $1 " has no layer"; next }
    NR == FNR && $3 ~ /^[TDBRC]$/ { home[$4] = $1 }
    NR == FNR || $3 != "U" { next }
    $4 in home && home[$4] != $1 && rank[home[$4]] >= rank[$1] {
        print "src/" $1 "/" $2 " calls " $4 " of src/" home[$4]
    }
    $4 ~ /^LAPACKE_/ && $1 "/" $2 !~ /^adjust\/linalg[a-z_]*\.o$/ {
        print "src/" $1 "/" $2 " calls " $4
    }
    $4 ~ /^(malloc|calloc|realloc|free|strdup|strndup)$/ && $1 "/" $2 != "base/alloc.o" {
        print "src/" $1 "/" $2 " calls " $4
    }' "$work/symbols" "$work/symbols" >>"$work/bad"

grep -Hn '#include "' src/cli/*.[ch] |
    grep -vE '"(flatwright\.h|flatwright/[a-z_]+\.h|cli/[a-z_]+\.h|[a-z_]+\.h)"' |
    sed 's/$/ in the program/' >>"$work/bad"

for file in include/flatwright/*.h; do
    grep -q "\"${file#include/}\"" include/flatwright.h || echo "flatwright.h lacks $file" >>"$work/bad"
done

# A private header says the same as its source and has no line of its own.
for folder in include include/flatwright src/base src/job src/figure src/adjust src/bench src/shop \
    src/report src/cli tests/support tests/unit tests/reference tests/slow tests/fault tests/fuzz \
    tests/bench; do
    ls "$folder"/*.c "$folder"/*.h 2>/dev/null | sort | while read -r file; do
        [ "$folder" = "${folder#include}" ] && [ "$file" != "${file%.h}" ] &&
            [ -e "${file%.h}.c" ] && continue
        [ "$folder" = "$last" ] || printf '\n`%s/`\n\n' "$folder"
        last=$folder
        name=${file##*/}
        case $(head -n 1 "$file") in
        "/* $name - "*'. */' | "/* $name - "*'? */')
            head -n 1 "$file" | sed 's|^/\* \([^ ]*\) - \(.*[^.]\)\.\{0,1\} \*/$|- `\1`: \2|'
            ;;
        *) echo "$file does not open with its idea: /* $name - ... . */" >>"$work/bad" ;;
        esac
    done
done >"$work/list"

awk -v list="$work/list" '
    /^## / && listing { listing = 0; print "" }
    !listing { print }
    /^## File by file/ { listing = 1; while ((getline line <list) > 0) print line }
' DEVELOPERS.md >"$work/DEVELOPERS.md"
if [ -n "$BLESS" ]; then
    cp "$work/DEVELOPERS.md" DEVELOPERS.md
else
    diff -u DEVELOPERS.md "$work/DEVELOPERS.md" >>"$work/bad"
fi

[ -s "$work/bad" ] || exit 0
cat "$work/bad"
exit 1
