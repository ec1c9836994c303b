# Every fault of work.csv and sag.csv by line and column.
fault 'fields' work.csv <<'END'
round,flat,hours,method,inner_mm,outer_mm,side_deg,stroke,note
0,A,1,grind,,,,,
x,A,1,grind,,,,,
1,D,1,grind,,,,,
1,A,-1,grind,,,,,
1,A,nan,grind,,,,,
1,A,1h,grind,,,,,
1,A,1,laponop,,,,,
1,A,1,ring,20,,,,
1,A,1,ring,50,40,,,
1,A,1,ring,50,100.5,,,
1,A,1,side,,,,,
1,A,1,grind,,,,2.5,
1,A,1
,,,,,,,,note
END
fault 'sweep and lap' work.csv <<'END'
round,flat,hours,method,stroke,sweep,lap_mm
1,A,1,lap-on-top,0.3,1.5,
1,A,1,lap-on-top,0.3,0,-2
END
fault 'columns' work.csv <<'END'
round,flat,hour,method,method
1,A,1,grind,grind
END
fault 'empty file' work.csv </dev/null
fault 'fields' sag.csv <<'END'
round,flat,ring_mm,sag_um,sigma_um,note
1,A,0,1,,
1,A,120,1,,
1,B,10,1,,
1,A,60,x,,
1,A,60,1e9,,
1,A,60,1,0,
1,E,60,1,1,
END
printf 'round,flat,ring_mm,sag_um\n1,A,60,\0001\n' | fault 'binary junk' sag.csv
echo '# faults of all files together'
good_job
echo 'junk' >>job/job.ini
echo 'A,D,0,0,1,x' >>job/readings.csv
printf 'round,flat,hours,method\n1,D,1,grind\n' >job/work.csv
printf 'round,flat,ring_mm,sag_um\n1,D,1,1\n' >job/sag.csv
refused
