# A notebook of three pairs, typed in as the laid comments say.
try new trio
cat >>trio/readings.csv <<'END'
1,A,B,0,0,-90,0.00
1,A,B,0,0,0,0.15
1,A,B,0,0,90,0.00
1,B,C,0,0,-90,0.00
1,B,C,0,0,0,-0.20
1,B,C,0,0,90,0.00
1,C,A,0,0,-90,0.00
1,C,A,0,0,0,0.29
# 1,C,A,0,0,45,2.90 a slip of the pen
1,C,A,0,0,90,0.00
END
echo '1,A,0.5,lap-on-top,,,,0.33,"slow, even"' >>trio/work.csv
echo '1,A,60,1.5,0.5,' >>trio/sag.csv
try check trio
try check trio --json
