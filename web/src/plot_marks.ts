/* How lines are told apart without their colour: in grey, on a fax, by eyes that take red for green. Each of eight lines has its own pair
 * of dash and mark; two of one side never share either. Dashes after no standard: common practice, no source. */
export const TOLD_APART = 8;

export const DASHES: number[][] = [[], [9, 5], [2, 4], [14, 4, 2, 4], [5, 3], [14, 4], [9, 3, 2, 3, 2, 3], [3, 7]];
export const MARKS = 8;

/** Its outline about (0, 0), as moves and lines; filled where `full`. Half of them are hollow. */
export function outline(marker: number): { points: [number, number][]; full: boolean } {
  const circle = Array.from({ length: 12 }, (_x, i): [number, number] => [Math.cos(i * Math.PI / 6), Math.sin(i * Math.PI / 6)]);
  const square: [number, number][] = [[-0.9, -0.9], [0.9, -0.9], [0.9, 0.9], [-0.9, 0.9]];
  const up: [number, number][] = [[0, -1.2], [1.1, 0.8], [-1.1, 0.8]];
  const down: [number, number][] = up.map(([x, y]) => [x, -y]);
  const shapes = [circle, square, up, down];
  const at = ((marker % MARKS) + MARKS) % MARKS;
  return { points: shapes[at % 4]!, full: at < 4 };
}

/** Places of a row at which a mark stands: some seven over what is seen, each line beginning a little later than the one before. */
export function places(x: ArrayLike<number>, row: ArrayLike<number | null | undefined>, low: number, high: number, marker: number): number[] {
  const step = (high - low) / 7, first = low + step * (0.15 + 0.1 * (marker % MARKS)), found: number[] = [];
  if (!(step > 0)) return found;
  let next = first;
  for (let i = 0; i < x.length; i++) {
    if (row[i] == null || !Number.isFinite(row[i]) || x[i]! < next || x[i]! > high) continue;
    found.push(i);
    while (next <= x[i]!) next += step;
  }
  return found;
}
