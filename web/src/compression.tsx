/* Compression and quench: what the volume above the piston is made of, cylinder by cylinder, and the gap that has to be neither
 * too small nor too large. Bounds and their source are the server's. */
import type { EngineCheck } from './api';
import { dash, fixed, quantity, shown, unitOf } from './format';
import { units } from './state';
import { t } from './words';

const volume = (v: number | null) => v == null ? dash : fixed(shown('volume', v), units.value === 'us' ? 3 : 2);
const length = (v: number | null) => quantity('length', v, units.value === 'us' ? 4 : 2);

/* A cut through bore and chamber. Not to scale: what is measured is written beside it. */
function Cut({ check, chamber, name }: { check: EngineCheck; chamber: number; name: string }) {
  const b = check.quench_bounds!, gap = check.quench_m ?? null;
  const words = t('A cut through the bore, not to scale: {name} {volume}, gasket {gasket}, deck {deck}, quench gap {gap}.',
    { name, volume: quantity('volume', chamber, 1), gasket: length(b.gasket_m), deck: length(b.deck_m), gap: length(gap) });
  return (
    <svg class="cut" viewBox="0 0 320 150" role="img" aria-label={words}>
      <path class="metal" d="M20 8H210V58H166Q160 18 115 18Q70 18 64 58H20Z" />
      <path class="metal" d="M20 72H54V146H20ZM176 72H210V146H176Z" /><path class="gasket" d="M20 60H54V70H20ZM176 60H210V70H176Z" />
      <path class="piston" d="M57 80H173V146H57Z" />
      <path class="arrow" d="M60 59V79M57 62L60 59L63 62M57 76L60 79L63 76M214 65H228M177 76H228" />
      <text x="115" y="44" text-anchor="middle">{name}</text><text x="115" y="57" text-anchor="middle">{quantity('volume', chamber, 1)}</text>
      <text class="gap" x="115" y="100" text-anchor="middle">{t('quench {gap}', { gap: length(gap) })}</text><text x="115" y="134" text-anchor="middle">piston</text>
      <text x="231" y="69">{t('gasket {thickness}', { thickness: length(b.gasket_m) })}</text><text x="231" y="86">{t('deck {height}', { height: length(b.deck_m) })}</text>
    </svg>
  );
}

/* The gap on its band, as the measurements of a build stand on theirs. */
function Gap({ check }: { check: EngineCheck }) {
  const b = check.quench_bounds!, gap = check.quench_m;
  if (gap == null) return null;
  const at = (v: number) => Math.min(Math.max(100 * v / (1.5 * b.high_m), .6), 99.4), out = gap < b.low_m || gap > b.high_m;
  const bounds = { gap: length(gap), low: length(b.low_m), high: length(b.high_m), from: b.from };
  return (
    <div>
      <svg class={'band' + (out ? ' out' : '')} viewBox="0 0 100 10" preserveAspectRatio="none" aria-hidden="true">
        <rect class="track" y="4" width="100" height="2" /><rect class="allowed" x={at(b.low_m)} y="1.5" width={at(b.high_m) - at(b.low_m)} height="7" /><rect class="needle" x={at(gap) - .6} width="1.2" height="10" />
      </svg>
      <p class={out ? 'grave-word' : 'quiet'}>{gap < b.low_m ? t('Quench {gap} is too small: below {low} ({from}).', bounds) : gap > b.high_m ? t('Quench {gap} is too large: above {high} ({from}).', bounds)
        : t('Reported below {low} and above {high} ({from}).', bounds)} {t('Measure it with soft wire before the engine runs.')}</p>
    </div>
  );
}

export function CompressionCard({ check }: { check: EngineCheck }) {
  const parts = check.clearance_parts_m3, ratios = check.compression_ratio ?? [], volumes = check.clearance_volume_m3 ?? [];
  const known = ratios.filter((r): r is number => r != null);
  if (!parts || !check.quench_bounds || known.length === 0) return null;
  const low = Math.min(...known), high = Math.max(...known), one = Math.abs(high - low) < 0.005;
  const alike = parts.chamber.every((c) => c === parts.chamber[0]), fixedParts: [string, string, number | null][] = [['+', t('gasket'), parts.gasket], ['+', t('deck'), parts.deck], ['+', t('crevice'), parts.crevice], ['+', t('dish'), parts.dish], ['−', t('dome'), parts.dome]];
  const given = fixedParts.filter(([, , v]) => v);
  return (
    <section class="card compression"><h2>Compression and quench</h2>
      <p class="big figure">{one ? fixed(low, 2) : t('{low} to {high}', { low: fixed(low, 2), high: fixed(high, 2) })} <span class="quiet">{one ? t('compression ratio') : t('compression ratio, cylinder by cylinder; spread {spread}', { spread: fixed(high - low, 2) })}</span></p>
      <div class="compression-pair">
        <div><Cut check={check} chamber={parts.chamber[0]!} name={alike ? t('chamber') : t('chamber {n}', { n: 1 })} /><Gap check={check} /></div>
        <div>
          <table class="list"><thead><tr><th scope="col">Above the piston at TDC</th><th scope="col" class="num">{unitOf('volume')}</th></tr></thead>
            <tbody>{alike && <tr><th scope="row"><span class="sign" /> {t('chamber')}</th><td class="num">{volume(parts.chamber[0]!)}</td></tr>}
              {given.map(([sign, name, v]) => <tr key={name}><th scope="row"><span class="sign">{sign}</span> {name}</th><td class="num">{volume(v)}</td></tr>)}
              {alike && <tr class="total"><th scope="row"><span class="sign">=</span> {t('volume at TDC')}</th><td class="num">{volume(volumes[0] ?? null)}</td></tr>}</tbody></table>
          {!alike && <table class="list"><thead><tr><th scope="col">Cylinder</th><th scope="col" class="num">{t('Chamber, {unit}', { unit: unitOf('volume') })}</th><th scope="col" class="num">Volume at TDC</th><th scope="col" class="num">Ratio</th></tr></thead>
            <tbody>{ratios.map((r, i) => <tr key={i}><th scope="row">{i + 1}</th><td class="num">{volume(parts.chamber[i] ?? null)}</td><td class="num">{volume(volumes[i] ?? null)}</td><td class="num">{r == null ? dash : fixed(r, 2)}</td></tr>)}</tbody></table>}
        </div>
      </div>
    </section>
  );
}
