/* "1234.5000" as people read it here: what stands behind the cents only where it is not nothing. */
const here = () => document.documentElement.lang || 'en';
export const money = (text: string) => { const n = Number(text), cents = Math.abs(n * 100 - Math.round(n * 100)) < 1e-6; return n.toLocaleString(here(), { minimumFractionDigits: 2, maximumFractionDigits: cents ? 2 : 4 }); };
