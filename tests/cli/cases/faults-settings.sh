# Every fault of job.ini by line and column, with what was expected.
fault 'unknown key' job.ini <<'END'
[set]
flats = A B C
diameter = 200
bor = 1
END
fault 'unknown section' job.ini <<'END'
[set]
flats = A B C
diameter = 200
[targets]
flatness = 10 nm
END
fault 'key in a wrong section, section twice, key twice' job.ini <<'END'
[set]
flats = A B C
diameter = 200
flatness = 10 nm
diameter = 250
[set]
END
fault 'lines that are neither' job.ini <<'END'
flats = A B
[set]
flats = A B C
diameter 200
[light
source = sodium
END
fault 'impossible values, all at once' job.ini <<'END'
[set]
flats = A B C
diameter = -200 mm
clear = 1e999 mm
bore = nan
thickness = 40 stone
glass = fused-silika
[target]
flatness = 10
confidence = 1.5
[light]
incidence = 90 deg
[readings]
unit = fringes
sigma = 0.02x
order = 0
[plan]
turns = 0 45 inf
END
fault 'one flat, a flat twice, a name that is none' job.ini <<'END'
[set]
flats = A B/C A
diameter = 200
END
fault 'zones that do not fit' job.ini <<'END'
[set]
flats = A B C
diameter = 200
clear = 210
[flat B]
clear = 100
bore = 120
[flat D]
END
fault 'fringes without a light' job.ini <<'END'
[set]
flats = A B C
diameter = 200
[readings]
unit = fringe
END
fault 'nothing required is there' job.ini <<'END'
[light]
source = sodium
END
fault 'empty file' job.ini </dev/null
printf '[set]\nflats = A\000 B\n' | fault 'binary junk' job.ini
printf '[set]\nflats = A B\ndiameter = 200 \033[2J\n' | fault 'control characters' job.ini
good_job
rm job/job.ini
echo '# no file'
refused
