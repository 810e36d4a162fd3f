#!/usr/bin/env bash
# Times of the commands on the hub, as multiples of one trace with its margins, since machines differ. Writes the table
# between the marks `<!-- commands -->` of benches/README.md and DEVELOPERS.md.
#
#   benches/commands.sh [path of billet]      (default: a release build of this tree)
set -euo pipefail
cd "$(dirname "$0")/.."
billet=${1:-}
if [ -z "$billet" ]; then
    cargo build --release --locked --bin billet
    billet=target/release/billet
fi
scratch=$(mktemp -d)
trap 'rm -r "$scratch"' EXIT
line=examples/hub.toml

# Least CPU seconds and least seconds on the clock of some runs of a command.
TIMEFORMAT='%R %U %S'
measure() {
    local times=$1 best_cpu= best_wall= seconds
    shift
    for _ in $(seq "$times"); do
        # A broken limit is a result.
        seconds=$( { time "$billet" "$@" >/dev/null 2>&1 || [ $? -le 1 ]; } 2>&1)
        read -r wall user system <<<"$seconds"
        cpu=$(awk -v a="$user" -v b="$system" 'BEGIN { print a + b }')
        best_cpu=$(awk -v a="$cpu" -v b="${best_cpu:-$cpu}" 'BEGIN { print a < b ? a : b }')
        best_wall=$(awk -v a="$wall" -v b="${best_wall:-$wall}" 'BEGIN { print a < b ? a : b }')
    done
    echo "$best_cpu $best_wall"
}

read -r trace _ <<<"$(measure 5 trace "$line" --json)"
table=$scratch/table
{
    echo "| command, hub | CPU, traces with margins: \`standard\` | \`quick\` | seconds on the clock: \`standard\` | \`quick\` |"
    echo "|---|---|---|---|---|"
} >"$table"
row() {
    local name=$1 times=$2 standard quick
    shift 2
    standard=$(measure "$times" "$@" --resolution standard)
    quick=$(measure "$times" "$@" --resolution quick)
    awk -v name="$name" -v trace="$trace" -v s="$standard" -v q="$quick" 'BEGIN {
        split(s, a, " "); split(q, b, " ")
        printf "| %s | %.1f | %.1f | %.2f | %.2f |\n", name, a[1] / trace, b[1] / trace, a[2], b[2]
    }' >>"$table"
}
whole() {
    local name=$1 times=$2
    shift 2
    awk -v name="$name" -v trace="$trace" -v s="$(measure "$times" "$@")" 'BEGIN {
        split(s, a, " "); printf "| %s | %.1f | | %.2f | |\n", name, a[1] / trace, a[2]
    }' >>"$table"
}
whole "\`trace\`, with margins in seconds" 3 trace "$line" --json
row "\`delays\`" 3 delays "$line" --json
row "\`exit-band\`" 3 exit-band "$line" --json
row "\`stops\`" 3 stops "$line" --json
row "\`moves\`" 3 moves "$line" --json
row "\`sensitivities\`" 3 sensitivities "$line" --json
row "\`delays --out\`: controller and decision table" 1 delays "$line" --out "$scratch/delays" --json
row "\`scatter\`, 10,000 samples, response surface" 1 scatter "$line" --json
row "\`scatter --every-sample --samples 500\`" 1 scatter "$line" --every-sample --samples 500 --json
whole "\`sheet\`" 3 sheet "$line" --out "$scratch/sheet.html" --json
whole "\`report --full\`" 1 report "$line" --full --out "$scratch/report.html" --json
row "\`warmup\`, thirty parts, steady state, preheat" 1 warmup "$line" --json
row "\`warmup --parts-only\`" 1 warmup "$line" --parts-only --json

for page in benches/README.md DEVELOPERS.md; do
    awk -v table="$table" '
        /^<!-- commands -->$/ { print; print ""; while ((getline line < table) > 0) print line; print ""; skip = 1; next }
        /^<!-- end of commands -->$/ { skip = 0 }
        !skip { print }
    ' "$page" >"$scratch/page"
    cp "$scratch/page" "$page"
done
cat "$table"
