# Every command and every long option, mistyped in three ways: a letter left out, two letters the
# other way round, a letter too many. The right word is suggested, and it is wrong usage. So are the
# words that an option's value may be.
slips()
{
    echo "$1" | awk '{
        n = length($1); k = int(n / 2)
        print substr($1, 1, k) substr($1, k + 2)
        if (substr($1, k, 1) != substr($1, k + 1, 1))
            print substr($1, 1, k - 1) substr($1, k + 1, 1) substr($1, k, 1) substr($1, k + 2)
        print substr($1, 1, k) "x" substr($1, k + 1)
    }'
}
# suggests WORD ARGUMENTS...: standard error must ask whether WORD was meant
suggests()
{
    wanted=$1
    shift
    "$FLATWRIGHT" "$@" >out 2>err
    [ $? -eq 1 ] && grep -qF -- "did you mean '$wanted'?" err || echo "$*: $(head -n 1 err)"
    tried=$((tried + 1))
}

tried=0
for command in $("$FLATWRIGHT" --help | sed -n '/^commands:/,/^$/s/^  \([a-z]*\) .*/\1/p'); do
    for slip in $(slips "$command"); do
        # new is as near
        [ "$slip" = net ] || suggests "$command" "$slip" "$ROOT/examples/page"
    done
    for option in $("$FLATWRIGHT" "$command" --help |
        sed -n 's/^  \(-., \)\{0,1\} *--\([a-z-]*\).*/\2/p'); do
        for slip in $(slips "$option"); do
            suggests "--$option" "$command" "--$slip"
            suggests "--$option" "$command" "--$slip=1"
        done
        for value in $("$FLATWRIGHT" "$command" --help |
            sed -n "s/^  .*--$option \([a-z]*|[a-z|]*\).*/\1/p" | tr '|' ' '); do
            suggests "$value" "$command" "--$option" "${value}x"
        done
    done
done
for option in json model words; do
    for slip in $(slips "$option"); do suggests "--$option" "$ROOT/examples/page" "--$slip"; done
done
for shell in bash zsh; do suggests "$shell" completion "x$shell"; done
[ $tried -gt 200 ] || echo "only $tried"
