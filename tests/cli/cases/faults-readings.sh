# Every fault of readings.csv by line and column, with what was expected.
row_fault 'not a number' 'A,C,0,0,ten,1'
row_fault 'NaN and infinity' 'A,C,nan,-inf,10,NAN'
row_fault 'overflow' 'A,C,0,0,10,1e400'
row_fault 'hexadecimal' 'A,C,0,0,0x10,1'
row_fault 'trailing text' 'A,C,0,0,10mm,1.5 nm'
row_fault 'decimal comma' 'A,C,0,0,10,"1,5"'
row_fault 'unknown flat' 'A,D,0,0,10,1'
row_fault 'unknown flat, nearly known' 'a,C,0,0,10,1'
row_fault 'a flat against itself' 'A,A,0,0,10,1'
row_fault 'outside the glass' 'A,C,0,0,100.1,1'
row_fault 'in the bore' 'A,B,0,0,-14.9,1'
row_fault 'missing field' 'A,C,0,0,10'
row_fault 'extra field' 'A,C,0,0,10,1,2'
row_fault 'empty fields' ',C,,0,10,'
row_fault 'quotes out of place' 'A,C,0,0,10,1"
A,"C"x,0,0,10,1'
row_fault 'a quote without an end' 'A,C,0,0,10,"1
A,D,0,0,10,1'
row_fault 'control characters' "$(printf 'A,\033]0;x\007,0,0,10,1')"
row_fault 'an impossible deviation' 'A,C,0,0,10,1e8'
row_fault 'several in one row, and in the next' 'A,A,x,y,z,
D,E,0,0,1,1'
fault 'duplicate column' readings.csv <<'END'
bottom,top,turn_deg,diameter_deg,position_mm,deviation,top
A,C,0,0,10,1,C
END
fault 'unknown column' readings.csv <<'END'
bottom,top,turn_deg,diameter_deg,position,deviation,position_mm
A,C,0,0,10,1,10
END
fault 'missing column' readings.csv <<'END'
bottom,top,turn_deg,diameter_deg,position_mm
A,C,0,0,10
END
fault 'no header' readings.csv <<'END'
A,C,0,0,10,1
A,C,0,0,20,1
END
fault 'tabs' readings.csv <<'END'
bottom	top	turn_deg	diameter_deg	position_mm	deviation
A	C	0	0	10	1
END
fault 'the optional columns' readings.csv <<'END'
bottom,top,turn_deg,diameter_deg,position_mm,deviation,round,unit,sigma,skip
A,C,0,0,10,1,0,fringes,0,2
A,C,0,0,20,1,1.5,nm,-1,yes
A,C,0,0,30,1,,,,
A,C,0,0,40,1,2,wave,0.1,1
END
fault 'sigma in part' readings.csv <<'END'
bottom,top,turn_deg,diameter_deg,position_mm,deviation,sigma
A,C,0,0,10,1,2
A,C,0,0,20,1,
END
fault 'empty file' readings.csv </dev/null
fault 'comments only' readings.csv <<'END'
# nothing here

END
printf 'bottom,top,turn_deg,diameter_deg,position_mm,deviation\nA,C,0,0,1\0000,1\n' |
    fault 'binary junk' readings.csv
printf '\377\376b\000o\000' | fault 'UTF-16' readings.csv
printf '\001\002\377\376junk\n\003\n' | fault 'junk' readings.csv
awk 'BEGIN { print "bottom,top,turn_deg,diameter_deg,position_mm,deviation"
             printf "A,C,0,0,10,"; for (i = 0; i < 1100000; i++) printf "1"; print "" }' |
    fault 'a line of more than 1 MB' readings.csv
good_job
rm job/readings.csv
echo '# no file'
refused
printf '%s\n' 'Bottom;Top;Turn;Diameter;Position;Deviation' 'A;B;0;0;-90;0,1' |
    fault 'a header typed from memory' readings.csv
