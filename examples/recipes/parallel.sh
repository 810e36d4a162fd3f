#!/usr/bin/env bash
# Thousands of part numbers over the cores of one machine with GNU parallel: the family table in shards, the
# results put together to the same bytes as one run of the whole table gives.
#
#   examples/recipes/parallel.sh LINE.toml TABLE.csv OUT.csv [SHARDS] [options of `billet family`]
#
# Needs `parallel` (a package of most distributions) and `billet`, or BILLET=path of it. Killed and started again
# it goes on with the shards that are missing. Several machines: give parallel its --sshlogin.
set -euo pipefail

if (($# < 3)); then
    sed -n '2,8s/^# \{0,1\}//p' "$0" >&2
    exit 2
fi
line=$1 table=$2 out=$3 shards=${4:-64}
shift $(($# < 4 ? $# : 4))
billet=${BILLET:-billet}
work=$out.shards
mkdir -p "$work"

# One core each: the shards are the parallel work. A broken limit (1) and a row that was refused (2) are results and
# stand in the file; only a shard without a file has failed.
one() {
    local part=$1
    shift
    RAYON_NUM_THREADS=1 "$@" --shard "$part/$SHARDS" --csv "$WORK/$part.part" --quiet >/dev/null || true
    [ -s "$WORK/$part.part" ] && mv "$WORK/$part.part" "$WORK/$part.csv"
}
export -f one
export SHARDS=$shards WORK=$work
seq "$shards" | while read -r part; do
    [ -s "$work/$part.csv" ] || echo "$part"
done | parallel --will-cite --halt soon,fail=1 one {} "$billet" family "$line" "$table" "$@"

# The head once, then the rows of every shard in order.
for part in $(seq "$shards"); do
    if ((part == 1)); then cat "$work/$part.csv"; else tail -n +2 "$work/$part.csv"; fi
done >"$out.part"
mv "$out.part" "$out"
rm -r "$work"
