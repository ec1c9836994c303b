#!/bin/sh
# Mutants: one operator, constant or sign of a source line is changed, and the tests have to notice.
# N=40 mutants at random from src/figure, src/adjust and src/shop (FILES=...), SEED=1. Survivors are
# printed to be judged one by one; build/mutate/survivors has them all. The tests are linked once,
# to a shared library that shows everything; a mutant costs one compilation and the tests until the
# first that fails. Those named like the file come first. A mutant that does not compile is no mutant.
export LC_ALL=C TZ=UTC NO_COLOR=1 OPENBLAS_NUM_THREADS=1
N=${N:-40} SEED=${SEED:-1} B=build/mutate
FILES=${FILES:-$(echo src/figure/*.c src/adjust/*.c src/shop/*.c)}
libs="$(pkg-config --libs lapacke openblas gsl | sed 's/-lgslcblas//') -lcsv -lm"
flags="-std=c11 -O1 -fPIC -Iinclude -Isrc -D_POSIX_C_SOURCE=200809L -DFW_VERSION=\"0\" -w"
mkdir -p $B/o $B/t
rm -f $B/survivors

object() { echo "$B/o/$(echo "${1%.c}" | tr / -).o"; }
for source in src/[!c]*/*.c; do
    [ "$(object "$source")" -nt "$source" ] || cc $flags -c -o "$(object "$source")" "$source" ||
        exit 1
done
for source in tests/support/*.c; do
    [ "$B/s-$(basename "$source" .c).o" -nt "$source" ] ||
        cc $flags -c -o "$B/s-$(basename "$source" .c).o" "$source" || exit 1
done
link() { cc -shared -o $B/libflatwright.so $B/o/*.o $libs; }
link || exit 1
for source in tests/unit/*.c tests/reference/*.c; do
    test=$B/t/$(basename "$(dirname "$source")")-$(basename "$source" .c)
    [ "$test" -nt "$source" ] || cc $flags -o "$test" "$source" $B/s-*.o -L$B -lflatwright $libs \
        -ljansson -lcmocka -Wl,-rpath,"$(pwd)/$B" || exit 1
done

# All mutants, a line 'FILE LINE COLUMN LENGTH NEW'; strings, comments and preprocessor are spared.
awk '
    function offer(at, length_, new) { print FILENAME, FNR, at, length_, new }
    FNR == 1 { comment = 0 }
    {
        text = $0
        if (comment) { if (!match(text, /\*\//)) next; comment = 0; next }
        if (text ~ /^ *\/\*/ && text !~ /\*\//) { comment = 1; next }
        if (text ~ /^#/ || text ~ /^ *\/\*/ || text ~ /assert\(/) next
        gsub(/\/\*.*\*\//, "", text)
        gsub(/"[^"]*"/, "\"\"", text)
        if (text != $0 && index($0, text) != 1) next   # columns would not be those of the file
        if (text !~ /^ /) next                         # inside functions only
        for (i = 1; i <= length(text); i++) {
            two = substr(text, i, 2); three = substr(text, i, 3)
            if (three == " + ") offer(i + 1, 1, "-")
            else if (three == " - ") offer(i + 1, 1, "+")
            else if (three == " * " ) offer(i + 1, 1, "/")
            else if (three == " / ") offer(i + 1, 1, "*")
            else if (three == " < ") { offer(i + 1, 1, "<="); offer(i + 1, 1, ">=") }
            else if (three == " > ") { offer(i + 1, 1, ">="); offer(i + 1, 1, "<=") }
            else if (two == "<=") { offer(i, 2, "<"); offer(i, 2, ">") }
            else if (two == ">=") { offer(i, 2, ">"); offer(i, 2, "<") }
            else if (two == "==") offer(i, 2, "!=")
            else if (two == "!=") offer(i, 2, "==")
            else if (two == "&&") offer(i, 2, "||")
            else if (two == "||") offer(i, 2, "&\\&")
            else if (two == "+=") offer(i, 2, "-=")
            else if (two == "-=") offer(i, 2, "+=")
            else if (two == "*=") offer(i, 2, "/=")
            else if (match(substr(text, i), /^[0-9]+(\.[0-9]+)?/) &&
                     substr(text, i - 1, 1) !~ /[A-Za-z0-9_.]/ &&
                     substr(text, i + RLENGTH, 1) !~ /[A-Za-z0-9_.]/) {
                number = substr(text, i, RLENGTH)
                offer(i, RLENGTH, number ~ /\./ ? number * 1.5 : number + 1)
                i += RLENGTH - 1
            }
        }
    }' $FILES >$B/all

# N of them by the seed.
awk -v n="$N" -v seed="$SEED" 'BEGIN { srand(seed) } { print rand(), $0 }' $B/all | sort -n |
    head -n "$N" | cut -d' ' -f2- >$B/sample

killed=0 survived=0 broken=0
while read -r file line column length new; do
    awk -v l="$line" -v c="$column" -v n="$length" -v new="$new" 'FNR != l { print; next }
        { gsub(/\\&/, "\\&", new); print substr($0, 1, c - 1) new substr($0, c + n) }' \
        "$file" >$B/mutant.c
    original=$(object "$file")
    cp "$original" $B/kept.o
    if cc $flags -I"$(dirname "$file")" -c -o "$original" $B/mutant.c 2>/dev/null && link; then
        stem=$(basename "$file" .c)
        result=survived
        for test in $(ls $B/t/*"$stem"* $B/t/* 2>/dev/null | awk '!seen[$0]++'); do
            timeout 60 "$test" >/dev/null 2>&1 </dev/null || { result="killed by ${test##*/}"; break; }
        done
    else
        result=broken
    fi
    cp -p $B/kept.o "$original"
    touch "$original"
    case $result in
    killed*) killed=$((killed + 1)) ;;
    broken) broken=$((broken + 1)) ;;
    *)
        survived=$((survived + 1))
        { echo "$file:$line:$column: '$new'"; sed -n "${line}p" "$file"; } | tee -a $B/survivors
        ;;
    esac
    [ -z "$TELL" ] || echo "$file:$line:$column $new $result"
done <$B/sample
link
echo "$killed killed, $survived survived, $broken did not compile, of $(wc -l <$B/all) possible"
[ $((killed * 10)) -ge $(((killed + survived) * 9)) ]
