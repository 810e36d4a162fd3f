#!/usr/bin/env bash
# Runs the reference case with every solver on three grids and writes table.md.
# Needs: cargo, a C compiler, SUNDIALS 6 (libsundials-dev), Python with NumPy and SciPy.
# One thread each; CPU time, so that other work on the machine matters little.
#   run.sh            all three grids
#   run.sh 20x48      one of them
set -euo pipefail
cd "$(dirname "$0")"
export OPENBLAS_NUM_THREADS=1 OMP_NUM_THREADS=1 RAYON_NUM_THREADS=1
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT

cargo build --release --manifest-path rust/Cargo.toml
gcc -O3 -march=native -Wall -o "$work/cvode" cvode.c \
    -lsundials_cvode -lsundials_nvecserial -lsundials_sunmatrixband -lsundials_sunlinsolband -lm
bin=rust/target/release

for grid in ${1:-20x48 40x96 80x192}; do
    nr=${grid%x*} nz=${grid#*x}
    "$bin/ours" export "$nr" "$nz" "$work/case"
    "$work/cvode" "$work/case" reference "$work/reference"
    "$bin/ours" scan "$nr" "$nz" "$work/reference" | tee -a "$work/lines"
    "$work/cvode" "$work/case" scan "$work/reference" | tee -a "$work/lines"
    "$bin/diffsol" "$nr" "$nz" "$work/reference" | tee -a "$work/lines"
    python3 scipy_bdf.py "$work/case" "$work/reference" | tee -a "$work/lines"
done
python3 table.py "$work/lines" | tee table.md
