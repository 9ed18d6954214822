#!/usr/bin/env bash
# SPDX-License-Identifier: Apache-2.0
# bench/side_by_side.sh BUILD [ROWS [INTO_JOB…]]: one file of readings, read by md5sum, by our program and by others, in one run.
#   BUILD     a build folder with the benchmarks (cmake --preset bench)
#   ROWS      1000000 when not stated
#   INTO_JOB  a command that takes the readings into a job and judges them, and says {"seconds": …}; {readings} and {schedule}
#             in it are replaced: bench/into_job build/bench/app/guidepin {readings} {schedule}
# Needs: sqlite3, node with bench/node_modules (npm ci --prefix bench), Debian's python3-pandas. A program that is not
# there is said to be missing. Times are the best of three; DuckDB's and pandas' are without their start.
# Ends with 1 when two programs give different answers.
set -euo pipefail
root=$(cd "$(dirname "$0")/.." && pwd)
build=$(cd "${1:?usage: side_by_side.sh BUILD [ROWS [INTO_JOB...]]}" && pwd)
rows=${2:-1000000}
shift $(($# > 2 ? 2 : $#))
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
export LC_ALL=C
readings=$work/readings.csv
schedule=$work/schedule.csv
"$build/bench/bench_readings_file" "$rows" "$readings" "$schedule"
read -r fixed alpha850 alpha1300 <<< "$("$build/bench/bench_verdicts" --values)"

wall() { # best of three, in seconds, of the whole command
  local best=999999 before after
  for _ in 1 2 3; do
    before=$(date +%s%N)
    "$@" > "$work/out" 2> "$work/err" || { cat "$work/err" >&2; return 1; }
    after=$(date +%s%N)
    best=$(awk -v a="$best" -v n=$((after - before)) 'BEGIN { s = n / 1e9; print (s < a) ? s : a }')
  done
  echo "$best"
}
inside() { # best of three of the "seconds" that the command prints; its last answer stays in $work/answer.NAME
  local name=$1 best=999999 s
  shift
  for _ in 1 2 3; do
    "$@" > "$work/answer.$name" 2> "$work/err" || { cat "$work/err" >&2; return 1; }
    s=$(sed -E 's/.*"seconds": ?([0-9.e+-]+).*/\1/' "$work/answer.$name")
    best=$(awk -v a="$best" -v s="$s" 'BEGIN { print (s < a) ? s : a }')
  done
  echo "$best"
}
field() { sed -E "s/.*\"$2\": ?([0-9.e+-]+).*/\1/" "$work/answer.$1"; }
import_sqlite() {
  rm -f "$work/import.db"
  sqlite3 "$work/import.db" -cmd '.mode csv' ".import $readings readings"
}

declare -A seconds
order=(md5sum)
cat "$readings" "$schedule" > /dev/null # into the page cache
seconds[md5sum]=$(wall md5sum "$readings")
order+=(verdicts)
seconds[verdicts]=$(inside verdicts "$build/bench/bench_verdicts" "$readings" "$schedule" 2)
order+=(duckdb)
if [ -d "$root/bench/node_modules/@duckdb/node-api" ]; then
  seconds[duckdb]=$(inside duckdb node "$root/bench/duckdb.mjs" "$readings" "$schedule" "$fixed" "$alpha850" "$alpha1300")
else
  seconds[duckdb]=missing
fi
order+=(pandas)
if /usr/bin/python3 -c 'import pandas' 2> /dev/null; then
  seconds[pandas]=$(inside pandas /usr/bin/python3 "$root/bench/pandas_verdicts.py" "$readings" "$schedule" "$fixed" "$alpha850" "$alpha1300")
else
  seconds[pandas]=missing
fi
order+=(sqlite-import)
seconds[sqlite-import]=missing
if command -v sqlite3 > /dev/null; then seconds[sqlite-import]=$(wall import_sqlite); fi
if [ $# -gt 0 ]; then
  command=("$@")
  for i in "${!command[@]}"; do
    command[i]=${command[i]//\{readings\}/$readings}
    command[i]=${command[i]//\{schedule\}/$schedule}
  done
  order+=(into-job)
  seconds[into-job]=$(inside into-job "${command[@]}")
fi

echo "$rows readings, $(stat -c %s "$readings") bytes; $(nproc) processors; load before: $(cut -d' ' -f1 /proc/loadavg)"
printf '%-16s %9s %12s %14s %12s\n' what seconds 'x md5sum' 'x sqlite3' 'x verdicts'
for what in "${order[@]}"; do
  if [ "${seconds[$what]}" = missing ]; then
    printf '%-16s %9s\n' "$what" missing
    continue
  fi
  awk -v w="$what" -v s="${seconds[$what]}" -v m="${seconds[md5sum]}" -v i="${seconds[sqlite-import]}" -v v="${seconds[verdicts]}" \
    'BEGIN { printf "%-16s %9.3f %12.2f %14s %12.2f\n", w, s, s / m, (i + 0 > 0) ? sprintf("%.2f", s / i) : "-", s / v }'
done
echo "memory of verdicts beyond the file: $(field verdicts bytes_a_reading) bytes a reading (aim: under 100)"

status=0
for other in duckdb pandas; do
  [ -e "$work/answer.$other" ] || continue
  for what in links failing margins; do
    awk -v a="$(field verdicts $what)" -v b="$(field "$other" $what)" 'BEGIN { d = a - b; exit !(d < 0.002 && d > -0.002) }' || {
      echo "$other disagrees on $what: $(field verdicts $what) against $(field "$other" $what)"
      status=1
    }
  done
done
[ "$status" -eq 0 ] && echo "all programs agree: $(field verdicts links) links, $(field verdicts failing) failing"

echo "growth (time per million readings should stay level):"
for n in 10000 100000 1000000 3000000; do
  "$build/bench/bench_readings_file" "$n" "$readings" "$schedule"
  s=$(inside growth "$build/bench/bench_verdicts" "$readings" "$schedule" 2)
  awk -v n="$n" -v s="$s" 'BEGIN { printf "%9d readings %8.4f s %8.3f s per million\n", n, s, s * 1e6 / n }'
done
exit "$status"
