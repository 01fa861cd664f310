#!/bin/sh
# Fetches tunegate, checks its checksum, and says whether what is checked out may be merged
# into BASE; the results are kept in the folder tuning-gate. No code of this repository is
# run. For Linux, with git 2.38 or later, [[[ if .Module ]]]and Go[[[ else ]]]curl, [[[ if eq .Archive "zip" ]]]unzip[[[ else ]]]tar[[[ end ]]] and sha256sum[[[ end ]]].
#
#     sh tuning-gate.sh origin/main
#     sh tuning-gate.sh origin/main --agreed policy,removed,new
#
# Exit status: 0 passed; 1 failed; 2 nothing was judged; 3 undecided. CI that shows a label
# which maintainers alone may set passes --agreed where it is set.
set -eu
base=${1:?the branch to merge into, such as origin/main}
shift
cd "$(dirname "$0")"
tools=$(mktemp -d)
fetched=
trap 'status=$?; rm -rf "$tools"; [ -n "$fetched" ] || status=2; exit "$status"' EXIT
[[[- if .Program ]]]
PROGRAM=[[[ shell .Program ]]]
SHA256=[[[ shell .SHA256 ]]]
[[[- end ]]]
[[[ .Fetch ]]]
fetched=yes
"$tools/tunegate" gate --base "$base" --results tuning-gate "$@"
