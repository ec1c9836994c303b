#!/bin/sh
# The pictures of examples/pictures are those that the program draws;
# BLESS=1 (`make pictures`) draws them anew.
export LC_ALL=C TZ=UTC OPENBLAS_NUM_THREADS=1
program=${FLATWRIGHT:-$(pwd)/build/release/flatwright}
drawn=$(mktemp) || exit 1
trap 'rm -f "$drawn"' EXIT
passed=0 failed=0
for file in examples/pictures/*.svg; do
    name=$(basename "$file" .svg)
    "$program" report examples/aurora --picture "$name" -o "$drawn" || exit
    if [ -n "$BLESS" ]; then
        cat "$drawn" >"$file"
    elif ! cmp -s "$drawn" "$file"; then
        echo "$file is not what the program draws: make pictures, and look at it"
        failed=$((failed + 1))
        continue
    fi
    passed=$((passed + 1))
done
echo "$passed passed, $failed failed"
[ $failed -eq 0 ] && [ $passed -gt 0 ]
