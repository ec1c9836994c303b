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
