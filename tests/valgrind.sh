#!/bin/sh
# Every command of tests/fault/runs under valgrind: nothing read that was not written, nothing left.
# OpenBLAS takes kernels that valgrind knows. What the system's libraries keep to the end is theirs.
. tests/fault/lib.sh
export OPENBLAS_CORETYPE=Haswell
command -v valgrind >/dev/null || { echo "no valgrind; 0 passed, 1 failed"; exit 1; }
while read -r kind line; do
    case $kind in reads | writes | adds) place "$line" ;; *) continue ;; esac
    lay
    valgrind -q --error-exitcode=99 --leak-check=full --show-leak-kinds=definite,indirect \
        --errors-for-leak-kinds=definite,indirect "$program" $arguments >"$work/printed" \
        2>"$work/err" <"$here/typed" || cat "$work/err" >>"$work/bad"
    verdict "$line"
done <"$here/runs"
finish
