#!/bin/sh
# The completion of both shells, asked as a person asks: a line and a tab. bash through its
# completion function; zsh, where it is installed, through a terminal of its own.
export LC_ALL=C TZ=UTC
program=${FLATWRIGHT:-$(pwd)/build/release/flatwright}
here=$(pwd)/tests
work=$(mktemp -d) || exit 1
trap 'rm -rf "$work"' EXIT
passed=0 failed=0

expect()
{
    if [ "$2" = "$3" ]; then
        passed=$((passed + 1))
    else
        failed=$((failed + 1))
        echo "completion: $1: got '$2', expected '$3'"
    fi
}

"$program" completion bash >"$work/flatwright.bash" && "$program" completion zsh >"$work/_flatwright"
expect 'printing' $? 0
mkdir "$work/bench" "$work/bench/two words" "$work/bench/trio" && touch "$work/bench/file.csv"
cat >"$work/ask.bash" <<'END'
# ask.bash SCRIPT WORD...: completes the last word
source "$1"; shift
COMP_WORDS=("$@") COMP_CWORD=$(($# - 1))
_flatwright
printf '%s\n' "${COMPREPLY[@]}" | sort | paste -sd ' ' -
END
ask() { (cd "$work/bench" && bash "$work/ask.bash" "$work/flatwright.bash" flatwright "$@"); }

commands=$("$program" --help | sed -n '/^commands:/,/^$/s/^  \([a-z]*\) .*/\1/p' | sort | paste -sd ' ' -)
[ -n "$commands" ]
expect 'commands in --help' $? 0
for command in $commands; do
    expect "bash: $command whole" "$(ask "$command" | tr ' ' '\n' | grep -cx -- "$command")" 1
    # every option of --help, and no other
    expect "bash: options of $command" "$(ask "$command" -)" "$("$program" "$command" --help |
        sed -n 's/^  \(-., \)\{0,1\} *\(--[a-z-]*\).*/\1 \2/p' | tr ', ' '\n\n' | grep . | sort |
        paste -sd ' ' -)"
done
expect 'bash: first word' "$(ask '' | tr ' ' '\n' | grep -cxE "$(echo "$commands" | tr ' ' '|')")" \
    "$(echo "$commands" | wc -w | tr -d ' ')"
expect 'bash: a beginning' "$(ask sol)" solve
expect 'bash: a folder as first word' "$(ask tri)" trio
expect 'bash: an option without a command' "$(ask --wo)" --words
expect 'bash: a job' "$(ask solve tr)" trio
expect 'bash: a folder with a blank' "$(ask solve tw)" 'two words'
expect 'bash: no file for a job' "$(ask solve fi)" ''
expect 'bash: a value' "$(ask export trio --format '')" 'csv json'
expect 'bash: a value, short' "$(ask export trio -f c)" csv
expect 'bash: a value after =' "$(ask export trio --format = j)" json
expect 'bash: right after =' "$(ask export trio --format =)" 'csv json'
expect 'bash: a file' "$(ask export trio -o fi)" file.csv
expect 'bash: a number is not completed' "$(ask next trio --fraction '')" ''
expect 'bash: shells' "$(ask completion '')" 'bash zsh'
expect 'bash: nothing for a list' "$(ask glasses '')" ''

if command -v zsh >/dev/null; then
    # The line as it stands after the tab.
    zask() { (cd "$work/bench" && zsh -f "$here/ask.zsh" "$work" "$program" "$1"); }
    # every option of --help, and no other: what each command tells _arguments
    cat >"$work/told.zsh" <<'END'
_arguments() { print -rl -- "${@[3,-1]}" }
_describe() { print -rl -- $known }
_files() { }
words=(flatwright $1 '') CURRENT=$(($#1 ? 3 : 2))
source $2
END
    for command in $commands .; do
        expect "zsh: options of $command" "$(zsh -f "$work/told.zsh" "$command" "$work/_flatwright" |
            sed -n 's/^([^)]*)//; s/^\*//; s/^\(-[-A-Za-z]*\).*/\1/p' |
            sort | paste -sd ' ' -)" \
            "$("$program" "$command" --help |
                sed -n 's/^  \(-., \)\{0,1\} *\(--[a-z-]*\).*/\1 \2/p' | tr ', ' '\n\n' |
                grep . | sort | paste -sd ' ' -)"
    done
    expect 'zsh: commands' "$(zsh -f "$work/told.zsh" '' "$work/_flatwright" | sed 's/:.*//' | sort |
        paste -sd ' ' -)" "$commands"
    expect 'zsh: an option again' "$(zask 'flatwright rehearse trio --pair A:B --pai')" \
        'flatwright rehearse trio --pair A:B --pair='
    expect 'zsh: an option but once' "$(zask 'flatwright rehearse trio --seed 1 --see')" \
        'flatwright rehearse trio --seed 1 --see'
    expect 'zsh: a command' "$(zask 'flatwright sol')" 'flatwright solve'
    expect 'zsh: a job as first word' "$(zask 'flatwright tri')" 'flatwright trio/'
    expect 'zsh: a job' "$(zask 'flatwright solve tri')" 'flatwright solve trio/'
    expect 'zsh: an option' "$(zask 'flatwright track trio --js')" 'flatwright track trio --json'
    expect 'zsh: an option of JOB alone' "$(zask 'flatwright trio --wo')" 'flatwright trio --words'
    expect 'zsh: a value' "$(zask 'flatwright export trio --format j')" \
        'flatwright export trio --format json'
    expect 'zsh: a value after =' "$(zask 'flatwright export trio --format=c')" \
        'flatwright export trio --format=csv'
    expect 'zsh: a file' "$(zask 'flatwright export trio -o fil')" \
        'flatwright export trio -o file.csv'
    expect 'zsh: a shell' "$(zask 'flatwright completion z')" 'flatwright completion zsh'
else
    echo 'zsh is not installed: its completion is not tested'
fi

printf '%d passed, %d failed\n' $passed $failed
[ $failed -eq 0 ]
