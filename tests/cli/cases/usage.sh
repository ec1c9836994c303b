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
try help
try solve trio --model srface
try check -json a
try trio solve
mkdir here && try here solve
try glasses trio
try completion
try completion fish
for bad in solve next track export; do try $bad; done
ls -A
