#!/bin/sh
# Installs into an empty folder, builds a program against what is there, static and shared, runs
# it and the installed program, and uninstalls: no file may be left.
set -eu
root=$(mktemp -d)
trap 'rm -rf "$root"' EXIT
job=$(pwd)/examples/page
fail() { echo "install: $*"; exit 1; }
make_it() { "${MAKE:-make}" --no-print-directory B="$B" MODE="$MODE" PREFIX=/opt/fw "$@"; }

B=${B:-build/release} MODE=${MODE:-release}
make_it install DESTDIR="$root"
export PKG_CONFIG_PATH="$root/opt/fw/lib/pkgconfig"
# The file speaks of /opt/fw; here that lies under $root.
sed -i "s|/opt/fw|$root/opt/fw|g" "$PKG_CONFIG_PATH/flatwright.pc"

# The program is the example of the library's manual page.
sed -n '/^\.Sh EXAMPLES/,/^\.Ed/p' man/flatwright.3 | sed '/^\./d; s|\\e|\\|g' >"$root/try.c"
cc=${CC:-cc}
# Word splitting is meant: the flags are lists.
$cc -std=c11 -Wall -Werror -o "$root/shared" "$root/try.c" $(pkg-config --cflags --libs flatwright)
LD_LIBRARY_PATH="$root/opt/fw/lib" "$root/shared" "$job" >"$root/shared.out"
LD_LIBRARY_PATH="$root/opt/fw/lib" ldd "$root/shared" | grep -q 'libflatwright\.so\.0 => ' ||
    fail "the shared program does not ask for libflatwright.so.0"

rm "$root/opt/fw/lib/libflatwright.so"
$cc -std=c11 -Wall -Werror -o "$root/static" "$root/try.c" \
    $(pkg-config --static --cflags --libs flatwright)
"$root/static" "$job" >"$root/static.out"
cmp "$root/shared.out" "$root/static.out"
[ "$(grep -c ': PV [0-9.]* nm, [a-z]*$' "$root/static.out")" = 3 ] || fail "$(cat "$root/static.out")"

stray=$(nm -D --defined-only "$root/opt/fw/lib/libflatwright.so.0" | awk '$3 !~ /^fw_/ { print $3 }')
[ -z "$stray" ] || fail "the library shows $stray"
for header in "$root"/opt/fw/include/flatwright/*.h; do
    $cc -std=c11 -Wall -Wextra -Werror -I"$root/opt/fw/include" -fsyntax-only -x c "$header" ||
        fail "$header does not stand alone"
done
"$root/opt/fw/bin/flatwright" --version >/dev/null
grep -q 'complete -F _flatwright flatwright' \
    "$root/opt/fw/share/bash-completion/completions/flatwright" || fail "no completion for bash"
[ "$(head -n 1 "$root/opt/fw/share/zsh/site-functions/_flatwright")" = '#compdef flatwright' ] ||
    fail "no completion for zsh"

make_it uninstall DESTDIR="$root"
left=$(find "$root/opt" ! -type d)
[ -z "$left" ] || fail "left behind: $left"
