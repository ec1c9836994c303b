# What [bench] says of support, warmth and view is reckoned with; the numbers are invented.
cp -r "$ROOT/examples/aurora" job
bench()
{
    cp "$ROOT/examples/aurora/job.ini" job/job.ini
    { echo '[bench]'; cat; } >>job/job.ini
}
bench <<'E'
support_bottom = rim
support_top = three 65 mm 30
gradient = 0.1 K
gap = 20 um
eye = 1.5 m
E
sed 's/thickness = 35/thickness = 25/' job/job.ini >ini && mv ini job/job.ini
try solve job --budget
try solve job --budget --words
"$FLATWRIGHT" solve job | sed -n '/^Bench/,/^Removal/p'
# only one place, no glass
bench <<'E'
support_bottom = ring 68 mm
bending = solve
E
sed '/^glass/d' job/job.ini >ini && mv ini job/job.ini
"$FLATWRIGHT" solve job | sed -n '/^Notes/,$p'
# a support thick glass hides from plate theory, bending that nothing tells, a lamp that fades
bench <<'E'
support_bottom = rim
support_top = rim
bending = ignore
gap = 100 um
eye = 2 m
E
sed 's/mercury-green/sodium/' job/job.ini >ini && mv ini job/job.ini
"$FLATWRIGHT" solve job | sed -n '/^Notes/,$p'
# thin and on the rim: what limits is the bench, and next offers the exchanged pairing
bench <<'E'
support_bottom = rim
support_top = three 65 mm 30
E
sed 's/thickness = 35/thickness = 9/' job/job.ini >ini && mv ini job/job.ini
"$FLATWRIGHT" next job | grep -A 5 '^  No number'
# Digits beyond the sixth are the kernel's own.
"$FLATWRIGHT" next job --json | grep '"bench"' | sed -E 's|(\.[0-9]{6})[0-9]+|\1|g'
# no budget without a bench: noise by itself
cp -r "$ROOT/examples/page" page
try solve page --budget
