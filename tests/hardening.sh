#!/bin/sh
# What was asked of the compiler and the linker is in the program: position-independent, tables
# read-only after loading, a stack that holds no code, its protector, checked string calls. And what
# is outside has no say in a result: locale, time zone, terminal, random seeds, memory's old contents.
export LC_ALL=C
B=${B:-build/release}
program=$B/flatwright
work=$(mktemp -d) || exit 1
trap 'rm -rf "$work"' EXIT
fail() { echo "hardening: $*" >>"$work/bad"; }

for file in "$program" "$B"/libflatwright.so.*; do
    readelf -Wh "$file" | grep -q 'Type: *DYN' || fail "$file is at a fixed place"
    readelf -Wl "$file" | grep -q 'GNU_RELRO' || fail "$file has tables that stay writable"
    readelf -Wd "$file" | grep -qE 'BIND_NOW|NOW' || fail "$file binds late"
    readelf -Wl "$file" | grep 'GNU_STACK' | grep -q 'RW ' || fail "$file has a stack that runs"
    readelf -Wd "$file" | grep -qE 'R(UN)?PATH' && fail "$file looks for libraries in a folder"
    [ "${MODE:-release}" = release ] || continue
    readelf -Ws "$file" | grep -q '__stack_chk_fail' || fail "$file has no stack protector"
    readelf -Ws "$file" | grep -q '__[a-z]*printf_chk' || fail "$file has no checked calls"
done

# A locale with a decimal comma, made here; where it cannot be made the others still count.
if command -v localedef >/dev/null && localedef -i de_DE -f UTF-8 "$work/de_DE.UTF-8" 2>/dev/null
then export LOCPATH="$work"
else echo "no locale with a decimal comma could be made"
fi
for run in 'check --json' solve 'solve --json' next 'next --json' track 'track --json' export; do
    # Word splitting is meant.
    set -- $run
    for job in examples/*/job.ini; do
        job=${job%/job.ini}
        "$program" "$@" "$job" >"$work/plain"
        [ -s "$work/plain" ] || fail "$run $job prints nothing"
        for locale in LC_ALL LC_NUMERIC; do
            env -u LC_ALL $locale=de_DE.UTF-8 LANG=de_DE.UTF-8 TZ=Asia/Kathmandu COLUMNS=31 \
                TERM=dumb NO_COLOR= CLICOLOR_FORCE=1 GSL_RNG_SEED=7 GSL_RNG_TYPE=taus \
                HOME=/nonexistent TMPDIR=/nonexistent PATH= OPENBLAS_NUM_THREADS=2 \
                OMP_NUM_THREADS=2 MALLOC_PERTURB_=165 POSIXLY_CORRECT=1 \
                "$(pwd)/$program" "$@" "$job" >"$work/got" 2>&1 || fail "$run $job fails"
            cmp -s "$work/plain" "$work/got" || fail "$run $job: the environment has a say"
        done
        env -i "$program" "$@" "$job" | cmp -s - "$work/plain" || fail "$run $job needs a variable"
    done
done

[ -s "$work/bad" ] || exit 0
sort -u "$work/bad"
exit 1
