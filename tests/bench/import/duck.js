// The peer: DuckDB's CSV reader, held to one thread, reads the file and sums every column.
// Prints one line of JSON: seconds by the clock and of CPU, the sum of all sums, rows.
// "hinted" tells it the delimiter, the header and that every column is a DOUBLE; else it finds out.
const { DuckDBInstance } = require('@duckdb/node-api');

async function main() {
  const [file, columns, how] = process.argv.slice(2);
  const connection = await (await DuckDBInstance.create(':memory:', { threads: '1' })).connect();
  const quoted = "'" + file.replaceAll("'", "''") + "'";
  let names = [];
  const described = await connection.runAndReadAll(`DESCRIBE SELECT * FROM read_csv(${quoted})`);
  names = described.getRows().map((row) => '"' + String(row[0]).replaceAll('"', '""') + '"');
  if (names.length !== Number(columns)) throw new Error(`${names.length} columns, not ${columns}`);
  const types = names.map((name) => "'" + name.slice(1, -1) + "': 'DOUBLE'").join(', ');
  const source = how === 'hinted' ? `read_csv(${quoted}, header=true, delim=',', columns={${types}})` : `read_csv(${quoted})`;
  const sums = names.map((name) => `sum(${name})`).join(', ');
  const before = process.cpuUsage();
  const start = process.hrtime.bigint();
  const answer = await connection.runAndReadAll(`SELECT count(*), ${sums} FROM ${source}`);
  const seconds = Number(process.hrtime.bigint() - start) / 1e9;
  const cpu = process.cpuUsage(before);
  const [rows, ...values] = answer.getRows()[0].map(Number);
  console.log(JSON.stringify({
    seconds, cpu_seconds: (cpu.user + cpu.system) / 1e6, rows, sums: values,
    peak_kb: process.resourceUsage().maxRSS,
  }));
}

main().catch((error) => { console.error(String(error)); process.exit(1); });
