#!/usr/bin/env bash
# Makes mistakes in the lines that were changed since BILLET_MUTANTS_BASE (default: origin/main, else main, else
# the commit before) with `cargo mutants`, for at most 15 minutes, and fails when one is missed that accepted.txt
# does not list. Where the tool is not installed it says so and is content.
set -uo pipefail
cd "$(dirname "$0")/../.." || exit 1

if ! cargo mutants --version >/dev/null 2>&1; then
    echo "cargo-mutants is not installed; nothing is tried"
    exit 0
fi
base=
for candidate in ${BILLET_MUTANTS_BASE:-origin/main main HEAD~1}; do
    found=$(git merge-base HEAD "$candidate" 2>/dev/null) || continue
    # On the branch itself there is nothing between it and HEAD.
    if [ "$found" != "$(git rev-parse HEAD)" ] || ! git diff --quiet HEAD; then
        base=$found
        break
    fi
done
out=target/mutants/changed
rm -rf "$out"
mkdir -p "$out"
git diff "${base:-HEAD}" -- 'src/*.rs' >"$out/changed.diff"
if [ ! -s "$out/changed.diff" ]; then
    echo "nothing in src was changed"
    exit 0
fi
# The tests have passed before, so no run without mistakes; unit tests come first and catch most.
timeout --kill-after=30 900 cargo mutants --in-diff "$out/changed.diff" --output "$out" --no-shuffle \
    --baseline skip --timeout 600 -- --lib --test outside
status=$?
case $status in
0 | 2 | 3) ;;
124 | 137) echo "stopped after 15 minutes; what was tried until then counts" ;;
*)
    echo "cargo mutants ended with $status"
    exit 1
    ;;
esac
missed=$out/mutants.out/missed.txt
[ -f "$missed" ] || exit 0
accepted=$(sed -e 's/ *#.*//' -e '/^$/d' tests/mutants/accepted.txt)
new=$(sed -E 's/^([^:]+):[0-9]+:[0-9]+: /\1: /' "$missed" | grep -Fxv -f <(printf '%s\n' "$accepted"))
if [ -n "$new" ]; then
    echo "missed, and not in tests/mutants/accepted.txt:"
    echo "$new"
    exit 1
fi
