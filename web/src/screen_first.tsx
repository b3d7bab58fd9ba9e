/* The first minute: an empty book. Two files, an invented day, or an engine of one's own. */
import { LanguageChoice } from './language_choice';
import { useState } from 'preact/hooks';
import { api } from './api';
import { adding, ChooseFiles } from './drop';
import { book, changes, complain, go, loadBook, say } from './state';
import { t } from './words';

/* Here only while the book is empty: invented pulls among real ones would be told apart by nobody. */
function DemoDay() {
  const [running, setRunning] = useState(false);
  const run = async () => {
    setRunning(true);
    try {
      const { pulls } = await api.demo();
      await loadBook();
      changes.value++;
      go('day');
      say(t('An invented day of {n} pulls is in this book.', { n: pulls }));
    } catch (problem) { complain(problem); setRunning(false); }
  };
  return (
    <div>
      <h2>A whole invented day</h2>
      <p>See a test day from first fire to the report, in a simulated cell.</p>
      {book.value?.empty && book.value.may_write && <>
        <p><button type="button" onClick={() => void run()} disabled={running}>Run an invented day here</button></p>
        <p role="status" class="quiet">{running ? t('Running: each recording is read like a real file…') : t('After that this book is for trying things out. Use another book for an engine of your own.')}</p></>}
      <p class="quiet">In a book of its own, from a terminal:</p>
      <pre tabIndex={0} translate={false}>enginewright demo{'\n'}enginewright serve \{'\n'}  --book enginewright-demo/demo.book</pre>
    </div>
  );
}

export function First() {
  return (
    <section class="first">
      <h1>Was that better?</h1>
      <p class="lead">Drop two recordings of your own logger anywhere on this page: one from before, one from after. Nothing is asked first.</p>
      <div class="target" aria-live="polite">{adding.value ?? <><ChooseFiles label="Choose files" /><span class="quiet">or drop them: text tables with any columns, any units, comma or semicolon</span></>}</div>
      <p class="quiet">The files are kept as they came. Every figure carries its unit, its conditions and its uncertainty, and can be walked back to its samples.</p>
      <div class="ways">
        <DemoDay />
        <div><h2>An engine of your own</h2><p>Describe the combination; figures and warnings follow as you type.</p><p><a class="button" href="#/engine">Begin an engine</a></p></div>
      </div>
      <p class="quiet"><LanguageChoice /></p>
    </section>
  );
}
