# What comes next, before anything was read, and with one pair only.
try new trio
try next trio
try next trio --json
try next trio --fraction 2
cat >>trio/readings.csv <<'EOF'
1,A,B,0,0,-90,0.00
1,A,B,0,0,-45,0.10
1,A,B,0,0,0,0.15
1,A,B,0,0,45,0.10
1,A,B,0,0,90,0.00
EOF
try next trio
# The work as it is to be written down, written down, read back.
cp -R "$ROOT/examples/page" page
printf 'round,flat,hours,method,inner_mm,outer_mm,side_deg,stroke,note\n' >page/work.csv
"$FLATWRIGHT" next page --rows | sed '1!s/,[0-9.]*,/,HOURS,/' | head -n 1
"$FLATWRIGHT" next page --rows >>page/work.csv
try check page
