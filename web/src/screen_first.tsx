/* The first minute: an empty book. */
import { adding, ChooseFiles } from './drop';

export function First() {
  return (
    <section class="first">
      <h1>Was that better?</h1>
      <p class="lead">Drop two recordings of your own logger anywhere on this page: one from before, one from after. Nothing is asked first.</p>
      <div class="target" aria-live="polite">{adding.value ?? <><ChooseFiles label="Choose files" /><span class="quiet">or drop them: text tables with any columns, any units, comma or semicolon</span></>}</div>
      <p class="quiet">The files are kept as they came. Every figure carries its unit, its conditions and its uncertainty, and can be walked back to its samples.</p>
      <div class="ways">
        <div><h2>A whole invented day</h2><p>See a test day from first fire to the report, in a simulated cell:</p><pre tabIndex={0}>enginewright demo{'\n'}enginewright serve \{'\n'}  --book enginewright-demo/demo.book</pre></div>
        <div><h2>An engine of your own</h2><p>Describe the combination; figures and warnings follow as you type.</p><p><a href="#/engine">Begin an engine</a></p></div>
      </div>
    </section>
  );
}
