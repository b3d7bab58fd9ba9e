/* Moist air of `enginewright air factor` against npm's psychrolib, which follows the 2017 ASHRAE
 * Handbook, Fundamentals, chapter 1. The program's saturation line is that of IAPWS, ASHRAE's that of
 * Hyland and Wexler: up to 0.022 % apart over water between 0 and 50 degC (both computed), so vapour is
 * asked to agree within 0.03 % of saturation pressure.
 *
 * Run: node check.js PROGRAM. Installs its one package beside itself when it is not there yet. */
'use strict';
const { execFileSync } = require('node:child_process');
const { existsSync } = require('node:fs');
const path = require('node:path');

if (!existsSync(path.join(__dirname, 'node_modules', 'psychrolib'))) {
  console.log('installing psychrolib beside this test (npm ci)');
  execFileSync('npm', ['ci', '--no-audit', '--no-fund', '--fetch-retries=1', '--fetch-timeout=30000'],
    { cwd: __dirname, stdio: ['ignore', 'ignore', 'inherit'] });
}
const psychrolib = require('psychrolib');
psychrolib.SetUnitSystem(psychrolib.SI);

const program = path.resolve(process.argv[2]);
let passed = 0;
let failed = 0;

function near(says, got, want, tolerance) {
  if (Math.abs(got - want) <= tolerance) {
    passed += 1;
  } else {
    failed += 1;
    console.log(`FAILED: ${says}: ${got}, psychrolib ${want}, within ${tolerance}`);
  }
}

function run(pressure, celsius, option, value, json) {
  const args = ['air', 'factor', '--pressure', `${pressure} Pa`, '--temperature', `${celsius} degC`,
    `--${option}`, value];
  return execFileSync(program, json ? [...args, '--json'] : args, { encoding: 'utf8' });
}

function ask(pressure, celsius, option, value) {
  return JSON.parse(run(pressure, celsius, option, value, true));
}

const apart = 3e-4; /* of saturation pressure, between the two saturation lines */
for (const pressure of [101325, 95000, 84000]) {
  for (const celsius of [5, 15, 25, 35, 45]) {
    const saturated = psychrolib.GetSatVapPres(celsius);
    for (const humidity of [0.1, 0.3, 0.5, 0.8, 1]) {
      const says = `${pressure} Pa, ${celsius} degC, ${100 * humidity} %`;
      const vapour = psychrolib.GetVapPresFromRelHum(celsius, humidity);
      const ratio = psychrolib.GetHumRatioFromVapPres(vapour, pressure);
      const air = ask(pressure, celsius, 'humidity', `${100 * humidity} %`);
      near(`${says}: vapour`, air.vapour_pressure_pa, vapour, apart * vapour);
      near(`${says}: density`, air.density_kg_m3,
        psychrolib.GetMoistAirDensity(celsius, ratio, pressure), 2e-4);

      /* the same air by its dew point; psychrolib solves for it to 0.001 K */
      const dew = psychrolib.GetTDewPointFromVapPres(celsius, vapour);
      if (dew > 0) {
        near(`${says}: by dew point`, ask(pressure, celsius, 'dew-point', `${dew} degC`).vapour_pressure_pa,
          vapour, (apart + 1e-4) * vapour);
        const printed = /relative humidity (\d+) %, dew point (-?[\d.]+) /.exec(
          run(pressure, celsius, 'humidity', `${100 * humidity} %`, false));
        near(`${says}: printed humidity`, Number(printed[1]), 100 * humidity, 0.51);
        near(`${says}: printed dew point`, Number(printed[2]), dew, 0.056);
      }

      /* and by its wet bulb, where the wick does not freeze */
      const wet = psychrolib.GetTWetBulbFromRelHum(celsius, humidity, pressure);
      if (wet > 0.5) {
        const by = psychrolib.GetVapPresFromHumRatio(
          psychrolib.GetHumRatioFromTWetBulb(celsius, wet, pressure), pressure);
        near(`${says}: by wet bulb`, ask(pressure, celsius, 'wet-bulb', `${wet} degC`).vapour_pressure_pa,
          by, apart * psychrolib.GetSatVapPres(wet) + 1e-6 * saturated);
      }
    }
  }
}
console.log(`[  PASSED  ] ${passed} test(s).`);
if (failed) {
  console.log(`[  FAILED  ] ${failed} test(s).`);
  process.exit(1);
}
