# What is built in, with its sources.
try glasses
try lights
try glasses --json
try lights --json
try glasses trio
