#!/usr/bin/env bash
# Puts known mistakes into a copy of the tree, one after the other, and demands of each that the tests
# that its patch names fail. See README.md beside this file.
#
#     tests/mutants/run.sh [all | PATCH...]
#
# A patch is a file or the name of one in this folder. The copy lies in target/mutants/tree; what is
# built goes to target/mutants/build, or to CARGO_TARGET_DIR where that is set.
set -uo pipefail
here=$(cd "$(dirname "$0")" && pwd)
root=$(cd "$here/../.." && pwd)
tree=$root/target/mutants/tree
export CARGO_TARGET_DIR=${CARGO_TARGET_DIR:-$root/target/mutants/build}
log=$root/target/mutants/last.log

patches=()
for arg in "${@:-all}"; do
    if [ "$arg" = all ]; then
        patches+=("$here"/*.patch)
    elif [ -f "$arg" ]; then
        patches+=("$(realpath "$arg")")
    elif [ -f "$here/${arg%.patch}.patch" ]; then
        patches+=("$here/${arg%.patch}.patch")
    else
        echo "no patch \`$arg\`" >&2
        exit 2
    fi
done

# The files that belong to the tree, with new times: cargo must not take what an earlier run built of a
# mistake for up to date.
copy_tree() {
    rm -rf "$tree"
    mkdir -p "$tree"
    (cd "$root" && git ls-files -z --cached --others --exclude-standard |
        while IFS= read -r -d '' file; do [ -e "$file" ] && printf '%s\0' "$file"; done |
        tar --create --null --files-from=- --file=-) | tar --extract --touch --directory "$tree" --file=-
}

# The tests that a patch names, one a line: `lib NAME` or `outside NAME`.
tests_of() { sed -n 's/^# must fail: *//p' "$1"; }

# Runs one test by its whole name: 0 it passes, 1 it fails, 2 it was not run.
run_test() {
    local kind=$1 name=$2 target
    case $kind in
    lib) target=(--lib) ;;
    outside) target=(--test outside) ;;
    *)
        echo "    \`$kind\` is neither lib nor outside"
        return 2
        ;;
    esac
    if ! (cd "$tree" && cargo test --locked "${target[@]}" --no-run) >"$log" 2>&1 </dev/null; then
        echo "    does not build:"
        grep -m 3 -A 4 '^error' "$log" | sed 's/^/    /'
        return 2
    fi
    (cd "$tree" && timeout 900 cargo test --locked "${target[@]}" -- --exact "$name") >"$log" 2>&1 </dev/null
    if grep -q '^test result: ok. 1 passed' "$log"; then
        return 0
    elif grep -q '^test result: FAILED. 0 passed; 1 failed' "$log"; then
        return 1
    fi
    echo "    there is no test \`$name\`, or it did not end"
    return 2
}

copy_tree
bad=0
# A test that fails without the mistake proves nothing.
if [ "${MUTANTS_BASELINE:-1}" != 0 ]; then
    echo "== without mistakes"
    while read -r kind name; do
        if run_test "$kind" "$name"; then
            echo "    $kind $name: passes"
        else
            echo "    $kind $name: DOES NOT PASS"
            bad=$((bad + 1))
        fi
    done < <(for patch in "${patches[@]}"; do tests_of "$patch"; done | sort -u)
fi
for patch in "${patches[@]}"; do
    label=$(basename "$patch" .patch)
    begin=$SECONDS
    echo "== $label: $(sed -n 's/^# mistake: *//p' "$patch")"
    mapfile -t tests < <(tests_of "$patch")
    if ((${#tests[@]} == 0)); then
        echo "    names no test"
        bad=$((bad + 1))
        continue
    fi
    mapfile -t files < <(sed -n 's|^+++ b/||p' "$patch")
    if ! (cd "$tree" && patch --strip=1 --fuzz=2 --force --no-backup-if-mismatch <"$patch") >"$log" 2>&1; then
        echo "    DOES NOT APPLY: bring it up to date with the code"
        bad=$((bad + 1))
    else
        for test in "${tests[@]}"; do
            # shellcheck disable=SC2086 # two words
            run_test $test
            case $? in
            0)
                echo "    $test: SURVIVED"
                bad=$((bad + 1))
                ;;
            1) echo "    $test: caught in $((SECONDS - begin)) s" ;;
            *) bad=$((bad + 1)) ;;
            esac
        done
    fi
    for file in "${files[@]}"; do
        cp "$root/$file" "$tree/$file" && touch "$tree/$file"
        rm -f "$tree/$file.rej" "$tree/$file.orig"
    done
done
if ((bad)); then
    echo "== $bad wrong"
    exit 1
fi
echo "== all ${#patches[@]} mistakes are caught"
