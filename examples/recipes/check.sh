#!/usr/bin/env bash
# The recipe for GNU parallel gives the same bytes as one run of the whole table, also when it was killed half-way; the
# one for Slurm the same as one machine, where a cluster answers.
#
#   examples/recipes/check.sh path/of/billet
set -euo pipefail
here=$(cd "$(dirname "$0")" && pwd)
BILLET=$(realpath "$1")
export BILLET
line=$here/../hub.toml
scratch=$(mktemp -d)
trap 'rm -r "$scratch"' EXIT
cd "$scratch"

{
    echo "part,billet.length_mm,stage.to trim press.seconds,billet.steel"
    for k in $(seq 12); do
        echo "P$k,$((135 + k)),$((5 + k % 4)),$([ $((k % 3)) = 0 ] && echo C45 || echo 42CrMo4)"
    done
    echo "bad,long,6,C45"
} >parts.csv
"$BILLET" family "$line" parts.csv --resolution quick --csv whole.csv --quiet >/dev/null || true
timeout 1 "$here/parallel.sh" "$line" parts.csv family.csv 5 --resolution quick || true
"$here/parallel.sh" "$line" parts.csv family.csv 5 --resolution quick
cmp whole.csv family.csv
echo "GNU parallel: $(wc -l <family.csv) rows, the same bytes"

if command -v sinfo >/dev/null && sinfo >/dev/null 2>&1; then
    options=(--samples 64 --resolution quick)
    "$BILLET" scatter "$line" "${options[@]}" --every-sample --json --quiet >whole.json || [ $? = 1 ]
    last=$("$here/slurm.sh" "$line" study.json 4 "${options[@]}")
    until squeue -h -j "$last" -t all -o %T 2>/dev/null | grep -Eq 'COMPLETED|FAILED|CANCELLED' || [ -s study.json ]; do
        sleep 1
    done
    cmp whole.json study.json
    echo "Slurm: the same bytes"
fi
