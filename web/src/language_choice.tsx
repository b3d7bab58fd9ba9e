/* The language of this page on this device. Names of languages stand in the language itself. */
import { language, languages, setLanguage } from './words';

const names: Record<string, string> = { en: 'English', de: 'Deutsch' };

export function LanguageChoice() {
  return (
    <label>Language of this page <select value={language.value} onChange={(e) => setLanguage(e.currentTarget.value)}>
      {languages.value.map((code) => <option key={code} value={code} translate={false} lang={code}>{names[code] ?? code}</option>)}
    </select></label>
  );
}
