#!/usr/bin/env bash
# A scatter study as an array job of Slurm: every task runs one part, a last job puts the parts together.
#
#   examples/recipes/slurm.sh LINE.toml OUT.json [PARTS] [options of `billet scatter`]
#
# OUT.json is the same to the byte as `billet scatter LINE.toml --every-sample --json` gives on one machine. A task that
# is killed or sent again goes on where its file of results ends. BILLET=path of the program.
set -euo pipefail

if (($# < 2)); then
    sed -n '2,7s/^# \{0,1\}//p' "$0" >&2
    exit 2
fi
line=$(realpath "$1") out=$(realpath -m "$2") parts=${3:-32}
shift $(($# < 3 ? $# : 3))
billet=${BILLET:-billet}
work=$out.parts
mkdir -p "$work"
more=$(printf '%q ' "$@")

array=$(sbatch --parsable --array="1-$parts" --requeue --cpus-per-task=1 --output="$work/%a.log" --wrap \
    "$(printf '%q ' "$billet" scatter "$line") $more --shard \$SLURM_ARRAY_TASK_ID/$parts --results $(printf '%q' "$work")/\$SLURM_ARRAY_TASK_ID --quiet --json")
# Exit status 1 means that the planned line breaks a limit: a result, not a failure.
sbatch --parsable --dependency="afterok:$array" --output="$work/merge.log" --wrap \
    "$(printf '%q ' "$billet" scatter "$line") $more --merge \$(for k in \$(seq $parts); do echo $(printf '%q' "$work")/\$k; done) --json > $(printf '%q' "$out").part; [ \$? -le 1 ] && mv $(printf '%q' "$out").part $(printf '%q' "$out")"
