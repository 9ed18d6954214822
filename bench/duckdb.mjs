// SPDX-License-Identifier: Apache-2.0
// node duckdb.mjs READINGS.csv SCHEDULE.csv FIXED ALPHA850 ALPHA1300: the work of bench_verdicts in DuckDB on two threads.
// The clock starts when the library is loaded and the database is open.
import { DuckDBInstance } from '@duckdb/node-api';

const [readings, schedule, fixed, alpha850, alpha1300] = process.argv.slice(2);
const number = (text) => {
  if (!/^-?[0-9.]+$/.test(text)) throw new Error(`not a number: ${text}`);
  return text;
};
const quoted = (text) => `'${text.replaceAll("'", "''")}'`;
const instance = await DuckDBInstance.create(':memory:', { threads: '2' });
const connection = await instance.connect();
const start = process.hrtime.bigint();
const result = await connection.runAndReadAll(`
  with s as (select link, length_m from read_csv(${quoted(schedule)}, header = true)),
  m as (
    select r.link, r.position,
      ${number(fixed)} + s.length_m / 1000 * case when r.wavelength_nm = 850 then ${number(alpha850)} else ${number(alpha1300)} end
        - r.attenuation_db as margin
    from read_csv(${quoted(readings)}, header = true, columns = {'link': 'VARCHAR', 'launch_end': 'VARCHAR', 'position': 'SMALLINT',
      'far_position': 'SMALLINT', 'wavelength_nm': 'SMALLINT', 'attenuation_db': 'DOUBLE', 'length_m': 'DOUBLE',
      'taken_at': 'TIMESTAMPTZ', 'reference': 'VARCHAR', 'operator': 'VARCHAR'}) r
    join s on s.link = r.link),
  v as (select link, min(margin) as worst, arg_min(position, margin) as position from m group by link)
  select count(*)::integer as links, count(*) filter (worst < 0)::integer as failing, sum(worst) as margins from v`);
const seconds = Number(process.hrtime.bigint() - start) / 1e9;
const [links, failing, margins] = result.getRows()[0];
console.log(JSON.stringify({ seconds, links, failing, margins }));
