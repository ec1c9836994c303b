#!/bin/sh
# The same results to 1e-9, whoever compiled the program and however: gcc and clang, -O0 and -O3,
# one thread and two, other kernels of OpenBLAS. And the same bytes from two builds in two folders.
# Everything is built in folders of its own, by copies of what is under version control.
export LC_ALL=C
work=$(mktemp -d) || exit 1
trap 'rm -rf "$work"' EXIT
make=${MAKE:-make}
runs='solve --json|next --json|track --json|export'

lay() { mkdir -p "$1" && git ls-files -z | xargs -0 cp --parents -t "$1"; }
build() { (cd "$1" && shift && "$make" --no-print-directory "$@" all >/dev/null) || exit 1; }

# What the program in $1 prints of both examples, its version and names included.
tell()
{
    for job in page aurora; do
        echo "$runs" | tr '|' '\n' | while read -r run; do
            # Word splitting is meant.
            "$1/build/release/flatwright" $run "examples/$job"
        done
    done
}

# Numbers agree to 1e-9 of their size, or of a nanometre; everything else letter by letter.
compare()
{
    awk -v wanted="$work/wanted" -v who="$2" '
        function apart(a, b,   d, s) {
            d = a - b; s = a < 0 ? -a : a
            return (d < 0 ? -d : d) > 1e-9 * (s > 1 ? s : 1)
        }
        {
            if ((getline other <wanted) <= 0) other = ""
            n = split($0, p, /[^-+.0-9eE]+/); m = split(other, q, /[^-+.0-9eE]+/)
            x = $0; y = other
            gsub(/[-+.0-9eE]+/, "#", x); gsub(/[-+.0-9eE]+/, "#", y)
            bad = x != y || n != m
            for (i = 1; i <= n && !bad; i++) {
                bad = apart(p[i], q[i])
            }
            numbers += n
            if (bad && faults++ < 3) print who ": line " NR "\n  " other "\n  " $0
        }
        END {
            if ((getline other <wanted) > 0) { print who ": lines are missing"; faults++ }
            exit faults > 0 || numbers < 100
        }' "$1"
}

failed=0 passed=0
count() { if [ "$1" -eq 0 ]; then passed=$((passed + 1)); else failed=$((failed + 1)); fi; }

lay "$work/a" && build "$work/a"
lay "$work/a much longer name" && build "$work/a much longer name"
for file in flatwright libflatwright.a libflatwright.so.0.1.0; do
    cmp "$work/a/build/release/$file" "$work/a much longer name/build/release/$file"
    count $?
done
tell "$work/a" >"$work/wanted"

for way in 'OPENBLAS_NUM_THREADS=1' 'OPENBLAS_NUM_THREADS=2' 'OPENBLAS_CORETYPE=Haswell' \
    'OPENBLAS_CORETYPE=Nehalem'; do
    export "${way?}"
    tell "$work/a" >"$work/got"
    compare "$work/got" "$way"
    count $?
    unset "${way%=*}"
done
for way in 'gcc -O0' 'gcc -O3' 'clang -O0' 'clang -O3'; do
    command -v "${way% *}" >/dev/null || { echo "no ${way% *}"; continue; }
    rm -rf "$work/b" && lay "$work/b"
    build "$work/b" CC="${way% *}" CFLAGS="${way#* } -U_FORTIFY_SOURCE"
    tell "$work/b" >"$work/got"
    compare "$work/got" "$way"
    count $?
done
echo "$passed passed, $failed failed"
[ $failed -eq 0 ]
