# Help, version and wrong usage.
try
try --help
try --version
try new --help
try check -h
try check --version
try chekc job
try nonsense
try check
try check a b
try check --jsn a
try check -x a
try check --json=yes a
try check -j -- --json
try new -- -job
ls -A
